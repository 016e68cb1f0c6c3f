#!/usr/bin/env bash
# Installs what is missing, builds, and runs every test that belongs to a change: unit tests with
# sanitizers, the whole way in release, the target under QEMU, fuzzing in short, the same bits from two
# compilers, format, lint, the Python side, and a few sabotages. Longer proofs have commands of their own
# (DEVELOPERS.md). Ends with one line "N passed, N failed"; exit 0 only if nothing failed.
#   usage: tests/run.sh [STAGE...]     no STAGE: all of them, in order
set -euo pipefail
cd "$(dirname "$0")/.."
root=$PWD
jobs=${JOBS:-$(nproc)}
out=$root/build/results
export CCACHE_BASEDIR=$root CCACHE_NOHASHDIR=1 DEBIAN_FRONTEND=noninteractive
passed=0
failed=0
mkdir -p "$out"

build() {  # preset, targets (none: everything)
  local preset=$1 options=(-DSTRANDPROOF_SOURCES="$root/build/sources")
  shift
  [ "$preset" != release ] || options+=(-DSTRANDPROOF_MPI=ON)
  cmake --preset "$preset" "${options[@]}" >"$out/configure-$preset.log" 2>&1 ||
    { tail -n 20 "$out/configure-$preset.log"; return 1; }
  cmake --build --preset "$preset" -j "$jobs" ${1:+--target "$@"} >"$out/build-$preset.log" 2>&1 ||
    { grep -A 5 -E "error|FAILED" "$out/build-$preset.log" | head -n 40; return 1; }
}

# Runs CTest in a preset's folder and adds its cases to the sums.
suite() {  # name, preset, ctest arguments
  local name=$1 folder=build/$2 counted
  shift 2
  rm -f "$out/$name.xml"
  (cd "$folder" && ctest --no-tests=error -j "$jobs" --output-on-failure --output-junit "$out/$name.xml" "$@") \
    >"$out/$name.log" 2>&1 || tail -n 60 "$out/$name.log"
  counted=$(tests/tally.py "$name" "$out/$name.xml")
  add "$counted"
}

add() {  # "passed failed"
  passed=$((passed + ${1% *}))
  failed=$((failed + ${1#* }))
}

# A check that is one command: counts as one case.
check() {  # name, command
  local name=$1
  shift
  if "$@" >"$out/$name.log" 2>&1; then
    add "1 0"
  else
    echo "FAILED $name:"
    tail -n 40 "$out/$name.log"
    add "0 1"
  fi
}

stage_install() { hil-scripts/install.sh test && firmware/crypto/fetch-sources.sh build/sources; }

stage_unit() { build dev && suite unit dev -LE 'accuracy|target|determinism|long'; }

# The ways that need speed or the emulator: accuracy over seeds, the target, the whole pull.
stage_release() {
  build arm && build release heavy_tests strandproof strandproof-sim &&
    suite release release -L 'accuracy|target|determinism|long'
}

stage_bits() { check same-bits tests/determinism.sh; }

stage_fuzz() { build fuzz fuzz_targets && suite fuzz fuzz -L fuzz; }

our_cpp() { git ls-files -co --exclude-standard '*.cpp' '*.hpp' | grep -v '^tests/house/fixtures/'; }

check_format() { our_cpp | xargs -d '\n' clang-format --dry-run --Werror; }

# The rooms where a mistake moves oil. The preset "tidy" does the same over every file.
check_tidy() {
  local files
  files=$(our_cpp | grep -E '^(firmware/(control|record|link|app|crypto)|proto|sim/plant)/.*\.cpp$')
  printf '%s\n' "$files" | xargs -d '\n' -P "$jobs" -n 4 clang-tidy --quiet -p build/release
}

stage_lint() {
  check format check_format
  check tidy check_tidy
}

stage_scripts() {
  build release frame_tool strandproof strandproof-sim strandproof-sim-mpi || return 1
  rm -f "$out/pytest.xml"
  STRANDPROOF_BUILD=$root/build/release STRANDPROOF_SIM=$root/build/release/sim/main/strandproof-sim \
    /usr/bin/python3 -B -m pytest -q -p no:cacheprovider \
    --junitxml="$out/pytest.xml" hil-scripts >"$out/pytest.log" 2>&1 || tail -n 60 "$out/pytest.log"
  add "$(tests/tally.py pytest "$out/pytest.xml")"
}

stage_sabotage() { check sabotage tests/sabotage/run.sh --quick; }

stages=(install unit release bits fuzz lint scripts sabotage)
[ $# -eq 0 ] || stages=("$@")
for stage in "${stages[@]}"; do
  if [ "$(type -t "stage_$stage")" != function ]; then
    echo "run.sh: there is no stage '$stage'; stages: install unit release bits fuzz lint scripts sabotage" >&2
    exit 2
  fi
done
for stage in "${stages[@]}"; do
  started=$SECONDS
  if ! "stage_$stage"; then
    echo "FAILED $stage: see $out"
    add "0 1"
  fi
  echo "stage $stage: $((SECONDS - started)) s, so far $passed passed, $failed failed"
done
echo "$passed passed, $failed failed"
[ "$failed" -eq 0 ] && [ "$passed" -gt 0 ]
