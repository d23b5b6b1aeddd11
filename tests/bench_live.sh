#!/usr/bin/env bash
# How punctual a live show is, as an independent receiver sees it on this
# machine: 512 channels in three universes, SECONDS_LIVE long (120).
#   tests/bench_live.sh build/plain/thundercue
set -u
program=$(realpath "${1:-build/plain/thundercue}") seconds=${SECONDS_LIVE:-120}
if [ -z "${INSIDE:-}" ]; then INSIDE=1 exec unshare $([ "$(id -u)" = 0 ] && printf %s -n || echo -rn) "$BASH" "$0" "$@"; fi
ip link set lo up && ip link set lo multicast on && ip route add 224.0.0.0/4 dev lo || exit 1
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
awk 'BEGIN { print "[circuit a]\nbreaker_amps = 400"; for (c = 1; c <= 512; c++)
    printf "[channel %d]\nkind = flood\nwatts = 5\ncircuit = a\nslot = %d\n", c, 3 * c - 2 }' >"$work/wide.rig"
# the first three channels of each universe carry the number of the light frame
awk -v frames=$((seconds * 40)) 'BEGIN { printf "time_s"; for (c = 1; c <= 512; c++) printf ",channel %d", c; print ""
    for (f = 0; f <= frames; f++) { printf "%.3f", f / 40; for (c = 1; c <= 512; c++) {
        k = c == 1 || c == 172 || c == 343 ? f % 256 : c == 2 || c == 173 || c == 344 ? int(f / 256) : 0
        printf ",%d", f < frames ? k : 0 } print "" } }' >"$work/wide.frames.csv"
# as root both ends run ahead of ordinary work: it is the network that is measured, not who else is busy
ahead=$(chrt -r 1 true 2>/dev/null && echo "chrt -r 1")
$ahead node tests/io/receiver/receive.mjs "$PWD/build/receiver" 1,2,3 2000 "$work/live.pcap" >"$work/live.txt" &
receiver=$!
sleep 1
"$program" play "$work/wide.frames.csv" --rig "$work/wide.rig" --no-sound --flash-limit off 2>/dev/null
wait $receiver
awk -v frames=$((seconds * 40)) '
function hex(s) { return (index("0123456789abcdef", substr(s, 1, 1)) - 1) * 16 + index("0123456789abcdef", substr(s, 2, 1)) - 1 }
$1 == "TROUBLE" { trouble++ }
$1 ~ /^[0-9]+$/ && $4 == 0 { # slot 3c-2: 1 and 4 in universe 1, 2 and 5 (of 514, 517) in 2, 3 and 6 (of 1027, 1030) in 3
    low = $2; f = hex(substr($8, 2 * low - 1, 2)) + 256 * hex(substr($8, 2 * (low + 3) - 1, 2))
    if (f > 0 && !((f, $2) in seen)) { seen[f, $2] = 1; off[++n] = $1 / 1000 - f * 25 } }
END { for (i = 1; i <= n; i++) { b = int(off[i] * 10); count[b]++ }
    for (b in count) if (count[b] > most) { most = count[b]; usual = (b + 0.5) / 10 }
    for (i = 1; i <= n; i++) { d = off[i] - usual; if (d < 0) d = -d; in1 += d <= 1; in5 += d <= 5; if (d > worst) worst = d }
    printf "%d of %d packets received; within 1 ms of their time %.3f %%, within 5 ms %.3f %%, worst %.2f ms; %d out of order\n",
        n, 3 * (frames - 1), 100 * in1 / n, 100 * in5 / n, worst, trouble }' "$work/live.txt"
