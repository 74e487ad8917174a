#!/usr/bin/env bash
# What `cmake --install` puts in place: programs, manual pages, and completion where each shell looks for it.
# Usage: installed.sh BUILD-FOLDER
set -euo pipefail
place=$(mktemp -d)
trap 'rm -rf "$place"' EXIT
cmake --install "$1" --prefix "$place" >"$place/log" || { cat "$place/log" >&2; exit 1; }
for file in bin/lapwright bin/lapwrightd share/man/man1/lapwright.1 share/man/man8/lapwrightd.8 \
  share/bash-completion/completions/{lapwright,lapwrightd} share/zsh/site-functions/_lapwright \
  share/fish/vendor_completions.d/{lapwright,lapwrightd}.fish; do
  [ -s "$place/$file" ] || { echo "$file is not installed" >&2; exit 1; }
done
"$place/bin/lapwrightd" --help | grep -q -- --once || { echo "lapwrightd does not run as installed" >&2; exit 1; }
for shell in bash zsh fish; do "$place/bin/lapwright" completion "$shell" >"$place/$shell"; done
cmp "$place/bash" "$place/share/bash-completion/completions/lapwright"
cmp "$place/bash" "$place/share/bash-completion/completions/lapwrightd"
cmp "$place/zsh" "$place/share/zsh/site-functions/_lapwright"
cmp "$place/fish" "$place/share/fish/vendor_completions.d/lapwrightd.fish"
