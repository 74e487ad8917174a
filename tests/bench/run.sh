#!/usr/bin/env bash
# Builds what is missing and runs the bench: bash tests/bench/run.sh tune [--help], or parsers. BUILD=folder builds elsewhere.
source "$(dirname "${BASH_SOURCE[0]}")/../../daemon/prepare.sh"
install_missing "${packages[@]}"
folder=${BUILD:-$top/build}
program=bench
[ "${1:-}" = parsers ] && program=bench_parsers && shift
build_only=("$program")
build_into "$folder"
cd "$top"
exec "$folder/tests/bench/$program" "$@"
