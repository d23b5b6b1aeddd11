#!/usr/bin/env bash
# The program as a Raspberry Pi runs it, under qemu: the same bytes for the
# sample as here?
#   tests/arm64.sh build/arm64/thundercue ROOT build/plain/thundercue
# ROOT holds Debian's libraries for arm64.
set -u
root=$(realpath "$2") samples=$PWD/samples
here() { "$native" "$@"; }
there() { qemu-aarch64 -L "$root" -E LD_LIBRARY_PATH="$root/usr/lib/aarch64-linux-gnu" "$foreign" "$@"; }
foreign=$(realpath "$1") native=$(realpath "$3") failed=0
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
mkdir "$work/clips"
ln -s "$samples/mill-pond.flac" "$work/clips/mill-pond.flac"
for side in here there; do
    mkdir "$work/$side" && cd "$work/$side" || exit 1
    $side cue "$samples/mill-pond.flac" --rig "$samples/mill-pond.rig" --out . --json report.json --quiet &&
    $side cue "$samples/mill-pond.flac" --levels 8bit --seed 7 --flash-limit off --no-preview --out other --quiet &&
    $side night ../clips --length 0:03:00 --gap 5..20 --seed 3 --out evening >evening.txt &&
    $side check mill-pond.frames.csv --rig "$samples/mill-pond.rig" >check.txt &&
    $side rig "$samples/mill-pond.rig" >rig.txt || { echo "[  FAILED  ] $side"; failed=1; }
    # a page carries the analysis unrounded: the last bits of its logarithms and transforms are those of the
    # machine's own libraries. Everything else in it is the same.
    sed -i 's/"analysis":"[^"]*"//' ./*.html
done
while read -r file; do
    if cmp "$work/here/$file" "$work/there/$file"; then echo "[       OK ] $file is the same on arm64"; else echo "[  FAILED  ] $file"; failed=1; fi
done < <(cd "$work/here" && find . -type f ! -name '.*' -printf '%P\n' | sort)
exit $failed
