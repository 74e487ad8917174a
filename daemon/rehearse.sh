#!/usr/bin/env bash
# The main job in one command: installs what is missing, builds, and rehearses a shift on the simulated railway.
# Usage: bash daemon/rehearse.sh [CONFIG] [options of `lapwright rehearse`]
source "$(dirname "${BASH_SOURCE[0]}")/prepare.sh"
install_missing "${packages[@]}"
build_only=(lapwright lapwright-rig)
build_into "$top/build" -DCMAKE_BUILD_TYPE=Release
config=$top/configs/demo.json
if [ $# -gt 0 ] && [ "${1#-}" = "$1" ]; then
  config=$1
  shift
fi
exec "$top/build/daemon/lapwright" rehearse "$config" "$@"
