#!/usr/bin/env bash
# CPU and memory of an idle service with all its links up: bash tests/bench/run.sh idle [SECONDS]
# The works of configs/works: lapwright-rig serves, lapwrightd has been halted and keeps its links and its control socket.
set -euo pipefail
programs=$1 seconds=${2:-60}
here=$(mktemp -d)
"$programs/lapwright-rig" configs/works/rig.json >"$here/rig.log" 2>&1 &
rig=$!
"$programs/lapwrightd" --config configs/works/bench.json --socket "$here/control" >"$here/daemon.log" 2>&1 &
daemon=$!
trap 'kill $daemon $rig 2>/dev/null; wait; rm -r "$here"' EXIT
for _ in $(seq 100); do grep -q 'looking for the engine' "$here/daemon.log" && break || sleep 0.1; done
"$programs/lapwright" halt --socket "$here/control"
sleep 2
ticks() { awk '{print $14 + $15}' "/proc/$daemon/stat"; }
before=$(ticks)
sleep "$seconds"
used=$(($(ticks) - before))
resident=$(awk '/VmRSS/ {print $2}' "/proc/$daemon/status")
awk -v used="$used" -v hz="$(getconf CLK_TCK)" -v s="$seconds" -v kb="$resident" 'BEGIN {
  printf "idle for %d s with all links up: %.2f %% of a core, %.1f MB resident\n", s, 100 * used / hz / s, kb / 1024 }'
