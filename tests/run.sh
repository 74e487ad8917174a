#!/usr/bin/env bash
# Installs what is missing, builds, and runs every test. Usage: bash tests/run.sh [BUILD-FOLDER [cmake options…]]
source "$(dirname "${BASH_SOURCE[0]}")/../daemon/prepare.sh"
install_missing "${packages[@]}" "${test_packages[@]}"
firmware=ON
folder=${1:-$top/build}
shift || true
build_into "$folder" "$@"
exec ctest --test-dir "$folder" --output-on-failure --no-tests=error
