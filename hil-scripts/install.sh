#!/usr/bin/env bash
# Installs the Debian 12 packages that are missing: the one list of what Strandproof needs.
#   usage: install.sh run|test     run: what the demo builds and runs with; test: that, and the test tools
set -euo pipefail

# libboost1.81, not the default 1.74: the two conflict, and 1.74's coroutines do not compile with g++ 12.
run_packages=(
  g++ cmake ninja-build ccache git ca-certificates dpkg-dev pkg-config patch
  libboost1.81-dev protobuf-compiler libprotobuf-dev nanopb libcli11-dev libtomlplusplus-dev
  nlohmann-json3-dev libfmt-dev libsoci-dev libsqlite3-dev libpq-dev libeigen3-dev libsodium-dev
  libkainjow-mustache-dev librandom123-dev libcairo2-dev libpango1.0-dev fonts-dejavu-core fonts-dejavu-extra
  python3 python3-protobuf
)
test_packages=(
  libgtest-dev libgmock-dev libbenchmark-dev librapidcheck-dev libsundials-dev
  clang clang-format clang-tidy python3-pytest python3-serial
  poppler-utils postgresql strace
  libboost-mpi1.81-dev libopenmpi-dev openmpi-bin
  gcc-arm-none-eabi libnewlib-arm-none-eabi libstdc++-arm-none-eabi-dev qemu-system-arm
)

what=${1:?usage: install.sh run|test}
case $what in
  run) wanted=("${run_packages[@]}") ;;
  test) wanted=("${run_packages[@]}" "${test_packages[@]}") ;;
  *) echo "install.sh: '$what' is neither run nor test" >&2; exit 2 ;;
esac

missing=()
for package in "${wanted[@]}"; do
  state=$(dpkg-query -W -f '${db:Status-Status}' "$package" 2>/dev/null || true)
  [ "$state" = installed ] || missing+=("$package")
done
if [ ${#missing[@]} -eq 0 ]; then
  echo "install: nothing is missing"
  exit 0
fi

as_root=()
if [ "$(id -u)" -ne 0 ]; then
  if ! command -v sudo >/dev/null; then
    echo "install: these packages are missing: ${missing[*]}; install them as root, then run again" >&2
    exit 2
  fi
  as_root=(sudo)
fi
echo "install: ${missing[*]}"
export DEBIAN_FRONTEND=noninteractive
"${as_root[@]}" apt-get -qq update
"${as_root[@]}" apt-get -qq -o Dpkg::Use-Pty=0 install --no-install-recommends -y "${missing[@]}" >/dev/null
echo "install: done"
