#!/usr/bin/env bash
# Fetches the source packages whose C files the firmware builds with its own flags (nanopb, BearSSL's
# SHA-256 and HMAC, libsodium's Ed25519 reference code) into a folder outside git. apt checks the
# signatures; the system's own package sources are used, with a private configuration, so nothing
# under /etc/apt changes and no host name is written down.
#   usage: fetch-sources.sh FOLDER
set -euo pipefail
into=${1:?usage: fetch-sources.sh FOLDER}
mkdir -p "$into"
into=$(cd "$into" && pwd)
packages=(nanopb bearssl libsodium)
if [ -e "$into/complete" ]; then exit 0; fi

private=$(mktemp -d)
trap 'rm -rf "$private"' EXIT
mkdir -p "$private"/{sources.list.d,lists/partial,cache/archives/partial}
for f in /etc/apt/sources.list /etc/apt/sources.list.d/*; do
  [ -s "$f" ] || continue
  case $f in
    *.sources) sed 's/^Types:.*/Types: deb-src/' "$f" > "$private/sources.list.d/$(basename "$f")" ;;
    *.list) sed -n 's/^deb /deb-src /p' "$f" > "$private/sources.list.d/$(basename "$f")" ;;
  esac
done
# Only the distribution's own archive has these; other entries are left out so that a broken one can not stop us.
for f in "$private"/sources.list.d/*; do
  grep -qi debian "$f" || rm -f "$f"
done
options=(-o Dir::Etc::sourcelist=/dev/null -o Dir::Etc::sourceparts="$private/sources.list.d"
  -o Dir::State::lists="$private/lists" -o Dir::Cache="$private/cache" -o APT::Get::List-Cleanup=0
  -o APT::Sandbox::User=root)
if ! apt-get "${options[@]}" -qq update; then
  echo "fetch-sources: the package lists could not be read; check the network and /etc/apt, then run again" >&2
  exit 2
fi
(cd "$private" && apt-get "${options[@]}" -qq source "${packages[@]}")
for p in "${packages[@]}"; do
  found=$(find "$private" -maxdepth 1 -type d -name "$p-*" | head -n 1)
  if [ -z "$found" ]; then
    echo "fetch-sources: source package $p did not unpack" >&2
    exit 2
  fi
  rm -rf "${into:?}/$p"
  mv "$found" "$into/$p"
done
touch "$into/complete"
