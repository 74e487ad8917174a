# Sourced by the scripts that build: installs what a bare Debian 12 lacks, then configures and builds into $build.
set -euo pipefail
top=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)

packages=(cmake ninja-build g++ libboost1.81-dev libboost-test1.81-dev libspdlog-dev nlohmann-json3-dev
          libeigen3-dev libcli11-dev libserialport-dev)
# For the trackside board's firmware and its tests in a simulated chip, and to check the unit file, the manual pages and the
# scripts for completion. Without tests nothing needs them.
test_packages=(gcc-avr avr-libc binutils-avr simavr libsimavr-dev libelf-dev systemd groff-base zsh fish)
firmware=OFF
# Ten files are compiled as one, as the headers would take most of the time. Whoever works on the program configures a folder
# without.
together=(-DCMAKE_UNITY_BUILD=ON -DCMAKE_UNITY_BUILD_BATCH_SIZE=10)
# Line tables are all that a sanitizer's report needs; full debug information doubles the time to build. Clang-tidy looks at
# the same twelve files as one.
sanitized=(-DCMAKE_BUILD_TYPE=Debug "-DCMAKE_CXX_FLAGS_DEBUG=-O1 -g1" -DLAPWRIGHT_SANITIZE=ON
           -DCMAKE_UNITY_BUILD=ON -DCMAKE_UNITY_BUILD_BATCH_SIZE=12)

# install_missing PACKAGE…: asks apt only for what is not there yet.
install_missing() {
  local missing=() package
  for package in "$@"; do
    dpkg-query -W -f='${Status}' "$package" 2>/dev/null | grep -q 'ok installed' || missing+=("$package")
  done
  [ ${#missing[@]} -eq 0 ] && return 0
  local as_root=()
  if [ "$(id -u)" -ne 0 ]; then
    command -v sudo >/dev/null || { echo "missing packages: ${missing[*]}; install them as root" >&2; return 69; }
    as_root=(sudo)
  fi
  echo "installing ${missing[*]}"
  "${as_root[@]}" env DEBIAN_FRONTEND=noninteractive apt-get update -q >/dev/null
  "${as_root[@]}" env DEBIAN_FRONTEND=noninteractive apt-get install -y -q --no-install-recommends "${missing[@]}" >/dev/null
}

# build_into FOLDER [cmake options…]: everything, or the targets that the array build_only names; the firmware if
# $firmware is ON.
build_only=(all)
build_into() {
  local folder=$1 log=$1/build.log
  shift
  mkdir -p "$folder"
  if ! cmake -S "$top" -B "$folder" -G Ninja -DLAPWRIGHT_FIRMWARE="$firmware" "${together[@]}" "$@" >"$log" 2>&1 ||
    ! cmake --build "$folder" --target "${build_only[@]}" >>"$log" 2>&1; then
    tail -n 60 "$log" >&2
    echo "the build in $folder failed; the whole log is $log" >&2
    return 70
  fi
}
