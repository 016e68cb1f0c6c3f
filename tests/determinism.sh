#!/usr/bin/env bash
# The same seed gives the same bytes whoever compiled it: the same pulls from g++ and clang, at -O0, -O1 with
# sanitizers, -O2, and -O3 across files with all that this machine has (fused multiply-add among it), trained by its own
# runs and with other field arithmetic in its signatures, compared tick by tick (the whole trace file) and byte by byte
# (the memory with all its records, as the hash that the pull prints) with the release build's. The Cortex-M4F image is
# compared with the desktop by tests/target.
#   usage: determinism.sh [quick|all]    quick: g++ -O2, g++ -O1 with sanitizers, clang -O2
set -euo pipefail
cd "$(dirname "$0")/.."
root=$PWD
jobs=${JOBS:-$(nproc)}
which=${1:-all}
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

build() {  # folder under build/, configure options
  local folder=$1
  shift
  cmake -S . -B "build/$folder" -G Ninja -DSTRANDPROOF_SOURCES="$root/build/sources" "$@" >"$work/$folder.log" 2>&1 &&
    cmake --build "build/$folder" -j "$jobs" --target strandproof-sim >>"$work/$folder.log" 2>&1 ||
    { tail -n 20 "$work/$folder.log"; exit 1; }
}

builds=(release dev release-clang)
build release --preset release
build dev --preset dev
build release-clang --preset release-clang
if [ "$which" = all ]; then
  JOBS=$jobs sim/campaign-build.sh
  builds+=(campaign)
fi
if [ "$which" = all ]; then
  for compiler in g++ clang++; do
    c_compiler=$([ "$compiler" = g++ ] && echo gcc || echo clang)
    folder=bits-$compiler-O0
    build "$folder" -DCMAKE_BUILD_TYPE=Debug -DCMAKE_CXX_COMPILER="$compiler" -DCMAKE_C_COMPILER="$c_compiler" \
      -DCMAKE_CXX_FLAGS_DEBUG=-O0 -DCMAKE_C_FLAGS_DEBUG=-O0
    builds+=("$folder")
  done
fi

# The hashes of the trace file and of the jack's memory, whatever the verdict of the pull was. A pull that was
# refused, or that never came to the state named, would compare idle ticks: that is an error.
run() {  # build, name, state that must be reached, arguments
  local build=$1 name=$2 state=$3 code=0
  shift 3
  "$(find "build/$build/sim" -name strandproof-sim -type f)" pull "$@" --trace "$work/$build-$name.csv" \
    >"$work/$build-$name.txt" 2>&1 || code=$?
  if [ "$code" -gt 1 ] || ! grep -qE "^ +[0-9.]+  $state " "$work/$build-$name.txt"; then
    echo "determinism: $build, $name: the pull never reached '$state' (exit $code):" >&2
    cat "$work/$build-$name.txt" >&2
    exit 1
  fi
  echo "$(sha256sum <"$work/$build-$name.csv" | cut -d ' ' -f 1) $(sed -n 's/^trace .*, memory //p' "$work/$build-$name.txt")"
}

compare() {  # name, state, arguments of pull
  local name=$1 state=$2 wanted found build
  shift 2
  wanted=$(run release "$name" "$state" "$@")
  [[ $wanted =~ ^[0-9a-f]{64}\ [0-9a-f]{16}$ ]] || { echo "determinism: $name: no hashes came out: $wanted" >&2; exit 1; }
  for build in "${builds[@]:1}"; do
    found=$(run "$build" "$name" "$state" "$@")
    if [ "$found" != "$wanted" ]; then
      echo "determinism: $name: $build differs from release (trace, memory: $found, not $wanted), trace first at:" >&2
      cmp "$work/release-$name.csv" "$work/$build-$name.csv" >&2 || true
      exit 1
    fi
  done
  echo "determinism: $name: ${#builds[@]} builds, $(wc -l <"$work/release-$name.csv") ticks, $wanted"
  echo "$wanted" >>"$work/hashes"
}

compare seed-1 ended --seed 1
compare seed-2 ended --seed 2
compare long-bed ended --seed 3 --set strand.length='80 m' --set jack.stroke='650 mm' \
  --set jack.stroke_usable='630 mm' --set sensors.stroke_span='700 mm'
compare break stopped sim/scenarios/break-at-60-percent.toml --seed 4
# A comparison of equal constants would pass too: different seeds must differ, in trace and in memory.
for column in 1 2; do
  if [ "$(cut -d ' ' -f $column "$work/hashes" | sort -u | wc -l)" -ne 4 ]; then
    echo "determinism: different pulls gave the same hash; the comparison proves nothing" >&2
    exit 1
  fi
done
echo "determinism: the same bytes from ${builds[*]}"
