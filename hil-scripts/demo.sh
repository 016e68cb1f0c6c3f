#!/usr/bin/env bash
# The whole way once, on a fresh Debian 12: installs what is missing, builds, and then, with a simulated jack
# on a bed of three strands: calibrates the jack on its rig, pairs, loads and verifies the gauge table, pulls
# the bed with a strand that breaks at 60 % of its jack force, fetches the log and writes the stressing record.
#   usage: demo.sh [FOLDER]     what it makes goes to FOLDER (out/demo); SPEED=n virtual seconds a second (40)
set -euo pipefail
cd "$(dirname "$0")/.."
root=$PWD
folder=${1:-out/demo}
speed=${SPEED:-40}
broken=2       # position of the strand that breaks
break_at="78 kN"  # 60 % of a jack force of about 130 kN

step() { printf '\n== %s\n' "$*"; }

step "install and build"
hil-scripts/install.sh run
firmware/crypto/fetch-sources.sh build/sources
cmake --preset release >/dev/null
cmake --build --preset release -j "$(nproc)" --target strandproof strandproof-sim | tail -n 1
sim=$root/build/release/sim/main/strandproof-sim
host=$root/build/release/host-tool/strandproof

if [ -e "$folder" ] && [ ! -e "$folder/made-by-demo" ]; then
  echo "demo: $folder is there already and was not made by the demo; name another folder" >&2
  exit 2
fi
rm -rf "$folder"
mkdir -p "$folder"
cd "$folder"
touch made-by-demo
folder=$PWD
plan=$root/host-tool/bed/example-plan.toml
jack=$folder/jack   # the simulated jack's pseudo-terminal
served=

finish() {
  [ -z "$served" ] || kill "$served" 2>/dev/null || true
  rm -f "$jack" "$jack.operator"
}
trap finish EXIT

strandproof() { "$host" --port "$jack" --archive "$folder/archive.sqlite" --keys "$folder/keys" "$@"; }

# The person at the pendant. Each line is one thing done; it is answered when it is done.
pendant() {
  printf 'pendant> %s\n' "$@"
  "$sim" operate --operator "$jack.operator" "$@"
}

step "calibrate: three increasing runs and a decreasing one against the reference cell"
"$sim" rig --out runs.csv
strandproof key new
strandproof gauge fit runs.csv -o table.json

step "a simulated jack, $speed times real time"
"$sim" serve --link "$jack" --speed "$speed" --quiet >jack.log 2>&1 &
served=$!
for _ in $(seq 100); do
  [ -e "$jack" ] && break
  kill -0 "$served" 2>/dev/null || { cat jack.log >&2; echo "demo: the simulated jack did not start" >&2; exit 2; }
  sleep 0.1
done
strandproof identify

step "pair this computer: asked here, confirmed at the pendant"
pendant pair
strandproof pair &
asking=$!
sleep 1
pendant "press confirm"
wait "$asking"
strandproof clock set

step "load the gauge table and read it back"
strandproof gauge load table.json
strandproof gauge show --file table.json

pull() {  # position
  strandproof bed send "$plan" --position "$1"
  pendant pull
}

step "strand 1"
pull 1
pendant retract thread

step "strand $broken breaks at $break_at"
pendant "fault strand-break at $break_at"
pull "$broken"
pendant lower-to-no-load
echo "the next instruction is refused until somebody has looked at the bed:"
if strandproof bed send "$plan" --position 3; then
  echo "demo: an instruction was taken although the neighbours of a broken strand were not inspected" >&2
  exit 1
fi
strandproof bed enter --inspected "$broken"
strandproof bed enter --replaced "$broken"
pendant retract thread

step "strand $broken again, and strand 3"
pull "$broken"
pendant retract thread
pull 3

step "fetch the log, write the stressing record"
strandproof log fetch
strandproof bed record --bed 1 -o record.html

step "what happened"
cat <<END
 1  The simulated jack 4711 was calibrated on its rig against a reference cell: three runs up, one down.
 2  A straight line was fitted per channel and branch, lack of fit judged, 12 points taken: table.json.
 3  This computer was paired at the pendant, set the clock, signed the table and loaded it; it was read back.
 4  Strand 1 was pulled to its jack force, settled, seated, and judged.
 5  Strand $broken broke at $break_at: the jack held, named the break, and was lowered by two acts at the pendant.
 6  The next instruction was refused until the neighbours' inspection and the replacement had been entered.
 7  Strand $broken was pulled again on a fresh strand; strand 3 followed.
 8  The log was fetched into an archive: $(strandproof log show | wc -l) records, each held once.
 9  The stressing record: $folder/record.html (SIMULATED: it can not be signed off).
10  Nothing that came over the line moved oil: every motion was held at the pendant.
END

step "one thing to try next"
cat <<END
controls engineer       $sim pull --set instruction.elongation_max="300 mm"
                        the stop moves: elongation limit before the force; add --trace pull.csv to see each tick
calibration technician  sed '3s/[0-9]*[.][0-9]*/nan/' $folder/runs.csv > bad.csv; $host gauge fit bad.csv -o x.json
                        a reading that is not a number is refused with its line and column
crew lead               $host --archive $folder/archive.sqlite log show --curves
                        what the jack wrote down, line by line; then open $folder/record.html
END
