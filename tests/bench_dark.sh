#!/usr/bin/env bash
# How soon a live show is dark after Ctrl-C, a crash, a kill or a lost sound
# card, by a receiver's clock, in a network of its own. RUNS_DARK=20 of each.
#   tests/bench_dark.sh build/plain/thundercue
set -u
program=$(realpath "${1:-build/plain/thundercue}")
if [ -z "${INSIDE:-}" ]; then INSIDE=1 exec unshare -rnm "$BASH" "$0" "$@"; fi
ip link set lo up || exit 1
mount -t tmpfs none /dev/shm 2>/dev/null # a sound server that is killed leaves things there
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
awk 'BEGIN { printf "time_s"; for (c = 1; c <= 16; c++) printf ",channel %d", c; print ""
    for (f = 0; f <= 2400; f++) { printf "%.3f", f / 40; for (c = 1; c <= 16; c++) printf ",%d", f < 2400 ? 100 + f % 2 : 0; print "" } }' >"$work/steady.frames.csv"
awk 'BEGIN { print "[circuit a]\nbreaker_amps = 15"; for (c = 1; c <= 16; c++)
    printf "[channel %d]\nkind = flood\nwatts = 5\ncircuit = a\n", c }' >"$work/steady.rig"
ln -s "$PWD/samples/mill-pond.flac" "$work/sound.flac"
cat >"$work/play" <<END
#!/bin/sh
exec "$program" "\$@" --rig "$work/steady.rig"
END
chmod +x "$work/play"
node tests/io/receiver/dark.mjs "$work/play" "$work/steady.frames.csv" "$work/sound.flac" "$(command -v jackd || echo -)" "${RUNS_DARK:-20}"
