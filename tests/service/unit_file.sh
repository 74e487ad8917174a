#!/usr/bin/env bash
# The unit file is right, and gives the service no more than it needs: an exposure of 1.3 of 10 at most by
# systemd-analyze security. Usage: unit_file.sh FOLDER-OF-THE-PROGRAMS
set -euo pipefail
unit=$(cd "$(dirname "${BASH_SOURCE[0]}")/../.." && pwd)/configs/lapwright.service
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
# The program is looked for where it was built; nothing else is changed.
sed "s#/usr/local/bin/#$1/#" "$unit" >"$folder/lapwright.service"
said=$(systemd-analyze verify "$folder/lapwright.service" 2>&1) || { echo "$said" >&2; exit 1; }
[ -z "$said" ] || { echo "systemd-analyze verify: $said" >&2; exit 1; }
for needed in Type=notify WatchdogSec= User=lapwright DevicePolicy=closed; do
  grep -q "^$needed" "$unit" || { echo "the unit file lacks $needed" >&2; exit 1; }
done
systemd-analyze security --offline=true --threshold=13 "$unit"
