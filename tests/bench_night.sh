#!/usr/bin/env bash
# Builds an evening of a folder of recordings twice, each time from nothing and then with what was heard before, and
# looks at it with other code: time, memory, the same bytes, flashes, loudness.
#   tests/bench_night.sh PROGRAM BENCH FOLDER [LENGTH]
set -u
program=$(realpath "$1") bench=$(realpath "$2") folder=$(realpath "$3") length=${4:-4:00:00}
work=$(mktemp -d) && trap 'rm -rf "$work"' EXIT
for place in first second; do
    mkdir "$work/$place"
    for round in heard known; do
        printf '%s: ' $round
        "$bench" --run "$program" night "$folder" --length "$length" --seed 3 --out "$work/$place/evening" --force \
            2>&1 >"$work/report" || [ $? = 1 ] || exit 1
    done
done
head -3 "$work/report"
for ending in flac night.csv events.csv ramps.csv frames.csv; do
    cmp "$work/first/evening.$ending" "$work/second/evening.$ending" || exit 1
done && echo "built twice: the same bytes"
"$bench" "$folder" "$work/first/evening" "$work/first/evening.flac" | grep -v '^\['
