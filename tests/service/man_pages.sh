#!/usr/bin/env bash
# The manual pages are right: groff has nothing to warn of, mandoc neither where it is on the machine.
set -euo pipefail
pages=$(cd "$(dirname "${BASH_SOURCE[0]}")/../.." && pwd)/configs/man
for page in "$pages"/*; do
  said=$(groff -man -Tutf8 -ww -z "$page" 2>&1) || { echo "$said" >&2; exit 1; }
  [ -z "$said" ] || { echo "groff: $said" >&2; exit 1; }
  text=$(groff -man -Tutf8 -P-cbu "$page") # without bold and underlined letters
  grep -q 'EXIT STATUS' <<<"$text" || { echo "$page: nothing readable comes out" >&2; exit 1; }
  if command -v mandoc >/dev/null; then mandoc -T lint -W warning "$page"; fi
done
