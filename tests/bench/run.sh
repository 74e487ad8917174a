#!/usr/bin/env bash
# Builds what is missing and runs the bench: bash tests/bench/run.sh tune [--help]. BUILD=folder builds elsewhere.
source "$(dirname "${BASH_SOURCE[0]}")/../../daemon/prepare.sh"
install_missing "${packages[@]}"
folder=${BUILD:-$top/build}
if ! { cmake -S "$top" -B "$folder" -G Ninja && cmake --build "$folder" --target bench; } >"$folder.log" 2>&1; then
  tail -n 40 "$folder.log" >&2
  echo "the build in $folder failed; the whole log is $folder.log" >&2
  exit 70
fi
cd "$top"
exec "$folder/tests/bench/bench" "$@"
