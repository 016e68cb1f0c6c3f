#!/usr/bin/env bash
# same_bits.sh SOURCE_FOLDER PROGRAM: the plant computes the same bits under g++ and clang++, -O0 and -O2, as in
# PROGRAM, the build's own plant_hash.
set -euo pipefail
source_folder=$1
expected=$("$2")
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
failed=0
for compiler in g++ clang++; do
  for level in -O0 -O2; do
    "$compiler" -std=c++20 "$level" -ffp-contract=off -fno-math-errno -I "$source_folder" \
      "$source_folder"/sim/plant/*.cpp "$source_folder"/tests/plant/plant_hash.cpp -o "$work/plant_hash"
    found=$("$work/plant_hash")
    echo "$compiler $level $found"
    if [ "$found" != "$expected" ]; then
      echo "same_bits: $compiler $level gives $found, the build's program $expected" >&2
      failed=1
    fi
  done
done
exit $failed
