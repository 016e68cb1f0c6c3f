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
"$sim" rig --out runs.csv | tee rig.txt
strandproof key new
# A person types the passphrase of a table key; a demo has nobody, so it reads one from a file of its own.
export STRANDPROOF_PASSPHRASE_FILE=$folder/passphrase
(umask 077 && head -c 18 /dev/urandom | base64 >"$STRANDPROOF_PASSPHRASE_FILE")
strandproof key table-new --name demo
strandproof gauge fit runs.csv -o table.json | tee fit.txt

step "a simulated jack, $speed times real time"
"$sim" serve --link "$jack" --speed "$speed" --quiet >jack.log 2>&1 &
served=$!
for _ in $(seq 100); do
  [ -e "$jack" ] && break
  kill -0 "$served" 2>/dev/null || { cat jack.log >&2; echo "demo: the simulated jack did not start" >&2; exit 2; }
  sleep 0.1
done
# On a busy machine the jack may take longer to answer for the first time than the tool waits.
until strandproof identify; do
  kill -0 "$served" 2>/dev/null || { cat jack.log >&2; echo "demo: the simulated jack ended" >&2; exit 2; }
done

step "pair this computer: asked here, confirmed at the pendant"
pendant pair
strandproof pair &
asking=$!
# The jack shows six digits once it has been asked; the person compares them with those on the screen here.
for _ in $(seq 100); do
  "$sim" operate --operator "$jack.operator" display | grep -qE '[0-9]{6}' && break
  sleep 0.1
done
pendant display "press confirm"
wait "$asking"
pendant menu-pull
strandproof clock set

step "enrol the key that signs gauge tables: the same fingerprint at both ends"
pendant enrol-table-key
strandproof key enrol &
asking=$!
for _ in $(seq 100); do
  "$sim" operate --operator "$jack.operator" display | grep -q 'TABLE KEY demo' && break
  sleep 0.1
done
pendant display "press confirm"
wait "$asking"
pendant menu-pull

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
if strandproof bed send "$plan" --position 3 2> >(tee refused.txt >&2); then
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
strandproof log verify
strandproof bed record --bed 1 -o record.html

log=$(strandproof log show)

# Nothing below is said that the programs did not say: the line of the log, or the demo has failed.
said() {  # file or - for the log, pattern
  local found
  found=$(if [ "$1" = - ]; then printf '%s\n' "$log"; else cat "$1"; fi | grep -oE -m 1 "$2") ||
    { echo "demo: '$2' was to be found in ${1/#-/the log}, and is not" >&2; exit 1; }
  printf '%s' "$found"
}

step "what happened"
# Assigned first: a failing $(...) inside a here-document would not stop the script.
rig=$(said rig.txt '[0-9]+ readings of jack [0-9]+')
fit=$(said fit.txt 'expanded uncertainty [0-9.]+ %')
paired=$(said - 'host paired')
clock=$(said - 'clock set by host')
table=$(said - 'gauge table loaded \(revision [0-9]+\)')
first=$(said - 'PULL bed 1 position 1: WITHIN LIMITS; settle [0-9.]+ kN, locked [0-9.]+ kN')
break=$(said - 'hazard row tripped: STRAND BREAK.*')
refused=$(said refused.txt 'NEIGHBOURS MUST BE INSPECTED FIRST')
lost=$(said - "PULL bed 1 position $broken: STRAND MUST BE REPLACED")
again=$(said - "PULL bed 1 position $broken: WITHIN LIMITS; settle [0-9.]+ kN, locked [0-9.]+ kN")
third=$(said - 'PULL bed 1 position 3: WITHIN LIMITS; settle [0-9.]+ kN, locked [0-9.]+ kN')
records=$(grep -c ' jack ' <<<"$log")
cat <<END
 1  The rig: $rig against a reference cell, three runs up and one down; nothing of the plant's constants used.
 2  The fit: table.json, $fit.
 3  The link: $paired at the pendant; $clock; $table, and what the jack holds is what was sent.
 4  $first.
 5  $break.
 6  $lost; then the next instruction: $refused.
 7  Inspection and replacement entered at the bed: $again.
 8  $third.
 9  The log: $records records fetched into $folder/archive.sqlite
10  The stressing record, SIMULATED, not to be signed off: $folder/record.html
END

step "one thing to try next"
cat <<END
controls engineer: change a limit and see the stop move, from the jack force to the elongation limit
    $sim pull --set instruction.elongation="300 mm"
calibration technician: spoil a reading; it is refused with file, line and column
    sed '3s/[0-9]*[.][0-9]*/nan/' $folder/runs.csv >$folder/bad.csv; $host gauge fit $folder/bad.csv -o $folder/bad.json
crew lead: read what the jack wrote down, then open the record in a browser
    $host --archive $folder/archive.sqlite log show
END
