#!/usr/bin/env bash
# No output takes the place of an input, in any command, however it is spelled
# and with --force: every input against every output option, and the bytes of
# all inputs afterwards.
set -u
cd "$(dirname "$0")/../.."
program=${THUNDERCUE:-$PWD/build/thundercue}
root=$PWD
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
cd "$work" || exit 1
mkdir in clips
{ printf 'RIFF\244\076\0\0WAVEfmt \020\0\0\0\001\0\001\0\100\037\0\0\200\076\0\0\002\0\020\0data\200\076\0\0'
  head -c 16000 /dev/zero; } >in/a.wav
cp in/a.wav clips/b.wav
printf 'kind,start_s\r\ncrack,0.500\r\n' >in/e.csv
printf 'kind,start_s\r\ncrack,0.500\r\n' >in/l.csv
cp in/l.csv in/a.labels.csv
cp in/l.csv clips/b.labels.csv
printf 'sensitivity = 60\n' >in/s.conf
cp "$root/samples/backyard.rig" in/r.rig
printf 'time_s,a\r\n0.000,0.0\r\n0.025,0.0\r\n' >in/f.csv
ln -s ../in in/again
for file in in/* clips/*; do [ -f "$file" ] && { ln -s "../$file" "in/${file##*/}.soft"; ln "$file" "in/${file##*/}.hard"; }; done
find in clips -type f -exec sha256sum {} + | sort >before
cases=0 bad=0

# protect COMMAND...: must end in 4 with a line that says why; nothing may change.
protect() {
    "$program" "$@" >out.txt 2>err.txt <in/a.wav
    status=$?
    cases=$((cases + 1))
    find in clips -type f -exec sha256sum {} + | sort >after
    if [ $status != 4 ] || ! grep -q 'is an input of this run' err.txt || ! cmp -s before after; then
        bad=$((bad + 1))
        echo "status $status: thundercue $*"
        cat err.txt
    fi
}

spellings() { echo "$1" "./$1" "$PWD/$1" "in/../$1" "${1/in\//in/again/}" "in/${1##*/}.soft" "in/${1##*/}.hard"; }

for force in --force ''; do
    for input in in/a.wav in/e.csv in/s.conf in/r.rig; do
        for name in $(spellings $input); do
            protect cue in/a.wav --events in/e.csv --settings in/s.conf --rig in/r.rig --out out --json "$name" $force
        done
    done
    for name in $(spellings in/a.wav); do protect cue - --out out --json "$name" $force; done
    for input in in/a.wav in/l.csv in/s.conf; do
        for name in $(spellings $input); do protect tune in/a.wav --labels in/l.csv --settings in/s.conf --save "$name" $force; done
    done
    for name in $(spellings in/a.labels.csv); do protect tune in/a.wav --save "$name" $force; done
    for name in $(spellings clips/b.wav) $(spellings clips/b.labels.csv); do protect tune clips --save "$name" $force; done
    for input in in/f.csv in/r.rig in/s.conf; do
        for name in $(spellings $input); do protect check in/f.csv --rig in/r.rig --settings in/s.conf --json "$name" $force; done
    done
    for name in $(spellings in/r.rig); do protect light 1 --find-lowest --to 127.0.0.1 --rig in/r.rig --save "$name" $force; done
    # names that follow from the stem: each is an input of this run here
    mkdir -p named
    for ending in events.csv ramps.csv frames.csv preview.html; do
        rm -f named/*
        ln in/a.wav "named/a.$ending"
        protect cue in/a.wav --out named $force
        rm -f named/*
        ln in/r.rig "named/a.$ending"
        protect cue in/a.wav --rig in/r.rig --out named $force
        rm -f named/*
        ln in/s.conf "named/a.$ending"
        protect cue in/a.wav --settings in/s.conf --out named $force
    done
    # an evening over a clip, a rig, settings, or another spelling of its folder
    for ending in flac events.csv ramps.csv frames.csv preview.html night.csv; do
        for input in clips/b.wav in/r.rig in/s.conf; do
            rm -rf evening
            mkdir evening
            ln $input "evening/e.$ending"
            protect night clips --length 0:00:10 --gap 1..2 --rig in/r.rig --settings in/s.conf --out evening/e $force
        done
    done
    for out in clips/b ./clips/b in/../clips/b; do
        protect night clips --length 0:00:10 --gap 1..2 --sound-format wav --out $out $force
    done
done
if [ $bad = 0 ]; then echo "[       OK ] inputs are kept: $cases cases"; else echo "[  FAILED  ] $bad of $cases cases"; exit 1; fi

# Two outputs of one run, spelled in two ways.
for name in out2/a.frames.csv ./out2/a.frames.csv in/../out2/a.ramps.csv; do
    mkdir -p out2
    "$program" cue in/a.wav --out out2 --json "$name" --force >out.txt 2>err.txt && { echo "[  FAILED  ] twice the same output: $name"; exit 1; }
done
echo "[       OK ] two outputs of one name are refused"

# --force replaces what the option writes, not what is of another kind.
mkdir kinds
cp in/a.wav kinds/sound.txt
cp in/r.rig kinds/rig.txt
cp in/e.csv kinds/events.txt
cp in/f.csv kinds/frames.txt
printf 'wrote 0123456789abcdef a.frames.csv\n' >kinds/.thundercue
printf 'sensitivity = 40\n' >old.conf
printf '{}\n' >old.json
find kinds -type f -exec sha256sum {} + | sort >before
for file in kinds/sound.txt kinds/rig.txt kinds/events.txt kinds/frames.txt kinds/.thundercue; do
    "$program" tune in/a.wav --save "$file" --force >out.txt 2>err.txt
    one=$?
    "$program" check in/f.csv --json "$file" --force >out.txt 2>>err.txt
    two=$?
    "$program" cue in/a.wav --out out3 --json "$file" --force >out.txt 2>>err.txt
    three=$?
    find kinds -type f -exec sha256sum {} + | sort >after
    if [ $one$two$three != 444 ] || [ "$(grep -c 'force does not overwrite' err.txt)" != 3 ] || ! cmp -s before after; then
        echo "[  FAILED  ] $file is of another kind: $one $two $three"
        cat err.txt
        exit 1
    fi
done
"$program" tune in/a.wav --save old.conf --force >out.txt 2>err.txt || { echo "[  FAILED  ] settings can't be replaced"; cat err.txt; exit 1; }
"$program" check in/f.csv --json old.json --force >out.txt 2>err.txt || { echo "[  FAILED  ] a report can't be replaced"; cat err.txt; exit 1; }
echo "[       OK ] what is of another kind stays"
