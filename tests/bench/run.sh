#!/usr/bin/env bash
# Builds what is missing and runs the bench: bash tests/bench/run.sh tune [--help]. BUILD=folder builds elsewhere.
source "$(dirname "${BASH_SOURCE[0]}")/../../daemon/prepare.sh"
install_missing "${packages[@]}"
folder=${BUILD:-$top/build}
build_only=(bench)
build_into "$folder"
cd "$top"
exec "$folder/tests/bench/bench" "$@"
