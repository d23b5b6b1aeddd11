#!/usr/bin/env bash
# An evening from the command line: what it says, and that the same words give
# the same bytes. Run from the top: tests/app/night.sh
set -u
. "${BASH_SOURCE%/*}/check.bash"
top=$PWD program=$(realpath "$program")
cd "$work" || exit 1
verdict() { # name, exit status
    if [ "$2" = 0 ]; then echo "[       OK ] $1"; else echo "[  FAILED  ] $1"; failed=1; fi
}
mkdir clips none once twice
cp "$top/samples/mill-pond.flac" clips/pond.flac
printf 'no sound' >clips/torn.wav

# ---- the same words, the same bytes ----
for form in flac wav ogg; do
    for place in once twice; do
        (cd $place && "$program" night ../clips --start 19:30 --end 19:33 --gap -4..30 --seed 5 --under ../clips/pond.flac \
            --sound-format $form --json eve.json --out eve --force >report.txt 2>left.txt; [ $? = 1 ])
        verdict "an evening as $form, $place: done, with a finding (what can't be read)" $?
        [ -e $place/eve.$form ] && mv $place/eve.$form $place/kept-$form
    done
    diff -r once twice >diff.txt
    verdict "as $form: all files and the report are the same twice" $?
done
[ "$(head -c 4 once/kept-ogg)" = OggS ] && [ "$(head -c 4 once/kept-flac)" = fLaC ] && [ "$(head -c 4 once/kept-wav)" = RIFF ]
verdict 'each form is what its name says' $?

# ---- times of day ----
grep -q '^eve: 0:02:.. from 19:30:00 to 19:32:.., ' once/report.txt
verdict 'the report tells from when to when' $?
[ "$(sed -n 2p once/eve.night.csv | tr -d '\r' | cut -d, -f7)" = 19:30:00 ]
verdict 'the running order tells the time of day' $?
grep -q '"start_clock": "19:30:00"' once/eve.json && grep -q '"end_clock": "19:32:' once/eve.json &&
    grep -q '"nearest_file": "pond.flac"' once/eve.json && grep -q 'torn.wav' once/eve.json
verdict 'the report for machines has times, storms and what was left out' $?
grep -q '"day_s":70200' once/eve.preview.html && grep -q '"under":"pond.flac"' once/eve.preview.html
verdict 'the page knows the time of day and the track beneath' $?
(cd once && "$program" night ../clips --order eve.night.csv --out again --quiet 2>left.txt; cmp -s eve.events.csv again.events.csv && cmp -s eve.frames.csv again.frames.csv)
verdict 'built again from its running order it is the same light' $?
printf 'seed = 6\n' >seed.settings
for row in 'own --seed 6' 'file --settings seed.settings' 'none'; do
    "$program" night clips --order once/eve.night.csv --out seed-${row%% *} $([ "$row" = none ] || echo "${row#* }") --quiet --no-preview 2>left.txt
done
[ "$(sed -n 2p once/eve.night.csv | cut -d, -f5)" = 5 ] && [ "$(sed -n 2p seed-none.night.csv | cut -d, -f5)" = 5 ] &&
    [ "$(sed -n 2p seed-own.night.csv | cut -d, -f5)" = 6 ] && cmp -s seed-own.night.csv seed-file.night.csv &&
    cmp -s seed-own.events.csv seed-file.events.csv
verdict 'a seed in a settings file goes before that of the order, as --seed does' $?
printf 'from = 30\nto = 40\n' >part.settings
"$program" night clips --length 0:02:00 --settings part.settings --out whole --quiet --no-preview 2>left.txt
"$program" night clips --length 0:02:00 --out plain --quiet --no-preview 2>left.txt
cmp -s whole.frames.csv plain.frames.csv && ! [ -e plain.preview.html ]
verdict 'settings that cut a recording do not cut an evening; --no-preview leaves the page out' $?


# ---- an edited order ----
"$program" night clips --length 0:02:00 --gap 5..9 --start 19:30 --under clips/pond.flac --under-level -14 --under-once --sound-format ogg --loudness -26 --out edit --no-preview >report.txt 2>left.txt
grep -q '^  again    to build from the running order, repeat --under clips/pond.flac --under-level -14 --under-once --sound-format ogg --loudness -26$' report.txt
verdict 'what an order does not know is told' $?
head -1 edit.night.csv | tr -d '\r' | cat - <(printf '%s\n' '5,33.5,pond.flac,,3,1,19:31:00,33.5' '0,2,pond.flac,,3,1,19:30:00,33.5' '60,93.5,pond.flac,,3,1,19:31:00,93.5') >mixed.csv
"$program" night clips --order mixed.csv --out mixed --no-preview >report.txt 2>left.txt
grep -q '^  cut      1 clip cut short by its end_s in mixed.csv$' report.txt &&
    grep -q '^  clocks   1 row of mixed.csv has another clock than start_s, which counts' report.txt &&
    [ "$(cut -d, -f1 mixed.night.csv | tr -d '\r' | tr '\n' ' ')" = 'start_s 0.000 5.000 60.000 ' ]
verdict 'rows in any order; what is cut short and which clocks are wrong is told' $?
check 'gains of the order that are not those of --loudness are told' 1 \
    '^  gains    3 clips at the gain_db of mixed.night.csv, not at -33 LUFS; an empty gain_db sets them to that$' '' \
    "$program" night clips --order mixed.night.csv --loudness -33 --out softer --no-preview
"$program" night clips --order mixed.csv --start 20:00 --out later --no-preview --quiet 2>left.txt
[ "$(cut -d, -f7 later.night.csv | tr -d '\r' | tr '\n' ' ')" = 'clock 20:00:00 20:00:05 20:01:00 ' ]
verdict 'another start: the order that is written has its clocks' $?
"$program" night clips --order later.night.csv --start 21:00 --out later --force --no-preview 2>left.txt | grep -q '^  clocks   later.night.csv still has those of a start at 20:00:00'
verdict 'another start: it is told of one that is kept' $?

# ---- finer samples ----
for form in flac wav; do
    "$program" night clips --length 0:00:40 --sound-bits 24 --sound-format $form --out fine-$form --no-preview >report.txt 2>left.txt
    grep -q '^  again .* --sound-bits 24$' report.txt
    verdict "24 bits as $form, and it is told that an order does not know them" $?
done
# Bits of a sample: octet 66 of the head that libsndfile writes to a WAV file, after a chunk that makes room for RF64; in FLAC the five that end in the first half of octet 21 (RFC 9639, 8.2), less one.
[ "$(od -An -tu1 -j66 -N1 fine-wav.wav | tr -d ' ')" = 24 ] && [ $(($(od -An -tu1 -j21 -N1 fine-flac.flac) >> 4)) = 7 ] &&
    [ $(($(od -An -tu1 -j20 -N1 fine-flac.flac) & 1)) = 1 ] && [ "$(od -An -tu1 -j66 -N1 once/kept-wav | tr -d ' ')" = 16 ]
verdict '24 bits are 24 bits, and 16 without a word' $?

# ---- a length that does not come out ----
# A second of silence, 8 kHz, 16 bits, beside the storm.
mkdir two
cp clips/pond.flac two/pond.flac
{ printf 'RIFF\244\076\0\0WAVEfmt \020\0\0\0\001\0\001\0\100\037\0\0\200\076\0\0\002\0\020\0data\200\076\0\0'
  head -c 16000 /dev/zero; } >two/quiet.wav
check 'what is left behind a single clip is told' 1 '^  short    by 0:00:07: no other clip fits into that$' '' \
    "$program" night clips --length 0:00:40 --out alone --no-preview
check 'and what gaps can not fill' 0 '^  short    by 0:00:[12].: no other clip fits into that, and --gap allows no longer silence$' '' \
    "$program" night two --length 0:01:00 --gap 1..2 --out pair --no-preview
"$program" night two --length 0:00:36 --gap 1..2 --opening pond.flac --closing quiet.wav --out both --no-preview >report.txt 2>left.txt
[ "$(cut -d, -f3 both.night.csv | tr '\n' ' ')" = 'file pond.flac quiet.wav ' ] && ! grep -q '^  short' report.txt
verdict 'an opening and a closing that just fit are both there' $?

# ---- what was heard is known again, but not to another build ----
cp "$program" other; echo >>other # the same, but not to the byte
mkdir builds
heard() { # as the evenings before, whose name is new
    "$1" night two --length 0:01:00 --out "builds/$2" --quiet --no-preview
    stat -c %s builds/.thundercue.heard
}
first=$(heard "$program" a) again=$(heard "$program" b) changed=$(heard ./other c)
[ "$first" -gt 1000 ] && [ "$again" = "$first" ] && [ "$changed" -gt $((2 * first - 100)) ] && cmp -s builds/a.frames.csv builds/c.frames.csv
verdict 'another build hears anew' $?

# ---- what is wrong is said ----
says() { # exit status, words (as a regular expression), arguments
    check "$2" "$1" '' "^thundercue: .*$2" "$program" night "${@:3}"
}
says 2 'say how long the evening is with --length' clips --out x
says 2 '--out NAME' clips --length 0:01:00
says 2 'has an ending already' clips --length 0:01:00 --out x.flac
says 2 "'4:00' is not a time like 4:00:00" clips --length 4:00 --out x
says 2 "'25:00' is not a time of day like 19:30" clips --start 25:00 --end 1:00 --out x
says 2 '--end needs --start' clips --end 1:00 --out x
says 2 'are the same time of day' clips --start 1:00 --end 1:00 --out x
says 2 'ends after the evening does' clips --start 19:30 --end 20:30 --quiet-hours 20:00..21:00 --out x
says 2 "'30' is not two numbers of seconds like 20..180" clips --length 0:01:00 --gap 30 --out x
says 2 'is none of flac, wav and ogg' clips --length 0:01:00 --sound-format mp3 --out x
for about in '--under-once' '--under-level -6' '--under-dip 6'; do
    says 2 "${about% *} needs --under FILE" clips --length 0:01:00 $about --out x
done
says 2 'leave out --length, --end, --gap' clips --order once/eve.night.csv --gap 5..9 --out x
says 2 '--sound-bits: 16 or 24, not 20' clips --length 0:01:00 --sound-bits 20 --out x
says 2 'is for flac and wav: ogg has none' clips --length 0:01:00 --sound-bits 24 --sound-format ogg --out x
says 2 "'nix.flac' is none of the folder's recordings" clips --length 0:01:00 --opening nix.flac --out x
says 2 '--length: 0:00:02 is too short for any of the clips; the shortest is pond.flac \(33.0 s\)' clips --length 0:00:02 --out x
says 2 '--start and --end: 0:01:00 is too short for any of the clips outside the quiet hours; ' \
    clips --start 19:30 --end 19:31 --quiet-hours 19:30:10..19:30:50 --out x
says 2 '--length: 0:00:34 is too short to hold pond.flac \(33.0 s\) and quiet.wav \(1.0 s\)' \
    two --length 0:00:34 --gap 1..2 --opening pond.flac --closing quiet.wav --out x
says 2 '--length: 0:00:32 is too short to hold pond.flac \(33.0 s\)' two --length 0:00:32 --opening pond.flac --out x
says 2 'is written by this run already' clips --length 0:01:00 --json x.flac --out x
says 2 'start_s: there is no such column' clips --order part.settings --out x
says 3 'there are no recordings in this folder' none --length 0:01:00 --out x
says 3 'No such file or directory' nowhere --length 0:01:00 --out x
says 3 'torn.wav' clips --length 0:01:00 --under clips/torn.wav --out x
says 3 'is no folder' clips --length 0:01:00 --events nowhere --out x
says 4 'is an input of this run' clips --length 0:01:00 --out clips/pond
says 4 'plain.events.csv: exists already' clips --length 0:01:00 --out plain
says 4 'plain.flac: would stay beside the new plain.ogg .* delete it or build with --sound-format flac' \
    clips --length 0:01:00 --out plain --sound-format ogg --force
cp plain.flac plain.ogg
check 'two sounds: play asks which' 2 '' 'several sounds of the same name are beside it, such as plain.flac and plain.ogg: say with --sound FILE' \
    "$program" play plain.frames.csv
rm plain.ogg
says 2 'start_s: there is no such column' clips --order part.settings --out plain
sed -i 's/,pond/, pond/' plain.night.csv
check 'an edited order: play asks for a new build' 2 '' 'plain.night.csv: was edited after the evening was built; build it again .* or play plain.frames.csv' \
    "$program" play plain.night.csv
[ -z "$(find . -name 'x.*' -o -name '.thundercue-*')" ]
verdict 'and nothing is left of it' $?
exit $failed
