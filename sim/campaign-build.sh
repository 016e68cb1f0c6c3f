#!/usr/bin/env bash
# The fastest simulator for this very machine: built once with counters, run over a few pulls, healthy and
# faulty, and built again by what they counted. The same bytes come out as of every other build
# (tests/determinism.sh), in about half the time of the release build. Takes two builds of the simulator.
#   usage: campaign-build.sh    the program: build/campaign/sim/main/strandproof-sim
set -euo pipefail
cd "$(dirname "$0")/.."
jobs=${JOBS:-$(nproc)}
work=$(mktemp -d)
program=build/campaign/sim/main/strandproof-sim
done=no
# The counts of a function are found by the path of its source as the compiler was told it. A compiler cache may
# shorten that path in one build and not in the other: then no count fits its function.
export CCACHE_DISABLE=1
# A program with counters is slow and writes into the tree: it goes if the work is not finished.
trap 'rm -rf "$work"; [ "$done" = yes ] || rm -f "$program"' EXIT

build() {  # watch or use
  cmake --preset campaign -DSTRANDPROOF_SOURCES="$PWD/build/sources" -DSTRANDPROOF_TRAINING="$1" >"$work/$1.log" 2>&1 &&
    cmake --build --preset campaign -j "$jobs" >>"$work/$1.log" 2>&1 ||
    { tail -n 20 "$work/$1.log"; exit 1; }
}

echo "campaign-build: 1 of 3: with counters"
find build/campaign -name '*.gcda' -delete 2>/dev/null || true
build watch
echo "campaign-build: 2 of 3: counting"
for name in healthy healthy-and-faulty; do
  code=0
  "$program" campaign "sim/campaigns/$name.toml" -o "$work/$name" --threads 1 --pulls 24 >"$work/$name.log" 2>&1 || code=$?
  if [ "$code" -gt 1 ]; then  # 1: a limit was breached, which is no matter here
    echo "campaign-build: the pulls of sim/campaigns/$name.toml could not be run (exit $code):" >&2
    tail -n 20 "$work/$name.log" >&2
    exit 1
  fi
done
echo "campaign-build: 3 of 3: by the counts"
build use
done=yes
echo "campaign-build: $program"
