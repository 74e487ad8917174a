#!/usr/bin/env bash
# Builds what is missing and runs the bench: bash tests/bench/run.sh tune [--help], parsers, halt, restore, soak, idle, coverage or mutations. BUILD=folder builds elsewhere.
source "$(dirname "${BASH_SOURCE[0]}")/../../daemon/prepare.sh"
install_missing "${packages[@]}"
case ${1:-} in coverage | mutations)
  kind=$1 && shift
  source "$top/tests/bench/$kind.sh"
  exit
  ;;
esac
folder=${BUILD:-$top/build}
program=bench
case ${1:-} in parsers | halt | restore | soak) program=bench_$1 && shift ;; esac
build_only=("$program")
[ "${1:-}" = idle ] && build_only=(lapwright lapwright-rig)
build_into "$folder"
cd "$top"
[ "${1:-}" = idle ] && exec bash tests/bench/idle.sh "$folder/daemon" "${@:2}"
exec "$folder/tests/bench/$program" "$@"
