#!/usr/bin/env bash
# What the command line says, word for word: exit status, standard output and
# standard error of each case stand in tests/app/golden/NAME.txt.
# After an intended change: GOLDEN_UPDATE=1 bash tests/app/golden.sh
set -u
cd "$(dirname "$0")/../.."
program=${THUNDERCUE:-$PWD/build/thundercue}
golden=$PWD/tests/app/golden
sample=$PWD/samples/mill-pond.flac
dump=$PWD/tests/fuzz/corpus/recording/sds.sds
work=$(mktemp -d)
trap 'chmod -R u+rwx "$work" 2>/dev/null; rm -rf "$work"' EXIT
failed=0

mkdir "$work/clips" "$work/none" "$work/mixed" "$work/mixed/night"
cd "$work" || exit 1
# A second of silence, 8 kHz, 16 bits: a recording in which nothing happens.
{ printf 'RIFF\244\076\0\0WAVEfmt \020\0\0\0\001\0\001\0\100\037\0\0\200\076\0\0\002\0\020\0data\200\076\0\0'
  head -c 16000 /dev/zero; } >clips/quiet.wav
cp clips/quiet.wav clips/calm.wav
cp clips/quiet.wav mixed/quiet.wav
cp clips/quiet.wav mixed/night/quiet.wav
cp clips/quiet.wav ./-dash.wav
cp clips/quiet.wav 'two words.wav'
cp clips/quiet.wav $'line\nbreak.wav'
cp clips/quiet.wav $'\xff.wav'
printf 'RIFF' >mixed/broken.wav
printf 'words' >mixed/notes.txt
mkfifo mixed/pipe.wav
ln -s loop.wav mixed/loop.wav
printf '' >empty.wav
printf 'sensitivity = 500\n' >wrong.conf
printf 'kind,start_s\nbang,1\n' >wrong.csv
printf '[channel 4]\nname = wash\nkind = flood\nwatts = 5\nmin_level = 130\n' >wrong.rig
long=$(printf 'x%.0s' $(seq 4000))

# golden NAME COMMAND...: runs it in the scratch folder and compares.
golden() {
    local name=$1 status
    shift
    "$@" >"$work/.out" 2>"$work/.err" </dev/null
    status=$?
    { echo "status $status"; echo "-- standard output"; cat "$work/.out"; echo "-- standard error"; cat "$work/.err"; } |
        sed -e "s|$work|WORK|g" -e "s|$long|LONG|g" >"$work/.got"
    if [ "${GOLDEN_UPDATE:-0}" = 1 ]; then cp "$work/.got" "$golden/$name.txt"; fi
    if diff -u "$golden/$name.txt" "$work/.got" >"$work/.diff" 2>&1; then
        echo "[       OK ] $name"
    else
        cat "$work/.diff"
        echo "[  FAILED  ] $name"
        failed=1
    fi
}

# ---- Options ----
golden no_command "$program"
golden unknown_command "$program" blink
golden unknown_option "$program" cue --sensitivty 60 a.wav
golden unknown_option_far_off "$program" cue --abracadabra a.wav
golden short_option "$program" cue -f a.wav
golden option_without_value "$program" cue a.wav --out
golden flag_with_value "$program" cue --force=yes a.wav
golden value_out_of_bounds "$program" cue --frame-rate=121 a.wav
golden value_no_number "$program" cue --lead soon a.wav
golden jobs_out_of_bounds "$program" batch clips --out out --jobs 0
golden two_recordings "$program" cue a.wav b.wav
golden no_recording "$program" cue
printf '# mine\nsensitivity 5\n' >unsigned.conf
printf 'sensitvity = 5\n' >typo.conf
golden settings_file_without_a_sign "$program" cue --settings unsigned.conf a.wav
golden settings_file_with_a_typo "$program" cue --settings typo.conf a.wav
golden settings_file_wrong "$program" cue --settings wrong.conf a.wav

# ---- Inputs ----
golden missing_recording "$program" listen nowhere.wav
golden empty_recording "$program" listen empty.wav
golden folder_as_recording "$program" cue clips
golden fifo_as_recording "$program" listen mixed/pipe.wav
golden link_loop_as_recording "$program" listen mixed/loop.wav
golden path_of_4000 "$program" listen "$long/a.wav"
golden broken_recording "$program" listen mixed/broken.wav
{ head -c 21 "$dump"; head -c 100 /dev/zero; tail -c +122 "$dump"; } >broken.sds
golden broken_sample_dump "$program" listen broken.sds --format csv
golden name_with_newline_missing "$program" listen $'no\nfile.wav'
golden name_with_newline "$program" listen $'line\nbreak.wav'
golden name_with_dash "$program" listen -- -dash.wav
golden name_of_broken_utf8 "$program" listen $'\xff.wav'
golden silence "$program" listen clips/quiet.wav
golden silence_csv "$program" listen --format=csv clips/quiet.wav
golden nothing_on_input "$program" listen -
golden wrong_events "$program" cue clips/quiet.wav --events wrong.csv --out e
golden wrong_rig "$program" cue clips/quiet.wav --rig wrong.rig --out e

golden endless_settings timeout -k 1 20 "$program" cue clips/quiet.wav --settings /dev/zero --out e
golden endless_rig timeout -k 1 20 "$program" cue clips/quiet.wav --rig /dev/zero --out e
printf 'kind,start_s,end_s,peak_s,strength,sharpness\n' >dull.csv
for t in 0.1 0.5 0.9; do echo "crack,$t,$t,$t,1,0.1"; done >>dull.csv
golden far_cracks "$program" cue clips/quiet.wav --events dull.csv --out far --no-preview
golden endless_events timeout -k 1 20 "$program" cue clips/quiet.wav --events /dev/zero --out e
golden endless_recording timeout -k 1 20 "$program" listen /dev/zero

# ---- Outputs ----
golden outputs "$program" cue 'two words.wav' --out new/deep --quiet
golden outputs_are_there ls new/deep
golden outputs_refused "$program" cue 'two words.wav' --out new/deep --quiet
golden outputs_forced "$program" cue 'two words.wav' --out new/deep --quiet --force
golden older_page_is_left "$program" cue 'two words.wav' --out new/deep --force --no-preview
golden out_is_a_file "$program" cue clips/quiet.wav --out empty.wav
golden out_is_4000 "$program" cue clips/quiet.wav --out "$long"
printf 'kind,start_s\ncrack,0.5\n' >quiet.events.csv
cp quiet.events.csv quiet.ramps.csv; "$program" cue clips/quiet.wav --out . --quiet --discard-edits; printf 'kind,start_s\ncrack,0.5\n' >quiet.events.csv
golden events_are_input_and_output "$program" cue clips/quiet.wav --events quiet.events.csv --out . --force --quiet
golden events_are_as_they_were cat quiet.events.csv
golden output_is_the_input "$program" cue clips/quiet.wav --events quiet.ramps.csv --out . --discard-edits --quiet
golden full_device bash -c '"$0" listen clips/quiet.wav --format csv > /dev/full' "$program"
golden closed_output bash -c '"$0" listen clips/quiet.wav >&-' "$program"
"$program" cue "${dump%/*}/mp3.mp3" --out open --no-preview --quiet
for closed in 'out >&-' 'error 2>&-' 'all <&- >&- 2>&-'; do # no file of ours stands in their place: neither written over nor silenced
    eval '"$program" cue "${dump%/*}/mp3.mp3" --out closed --no-preview --discard-edits' "${closed#* }" >said.txt 2>&1
    golden "closed_${closed%% *}" bash -c 'for file in open/*; do cmp "$file" "closed/${file#*/}"; done'
done
golden nothing_hidden_is_left find . -name '.thundercue-*'

# ---- Batch ----
golden batch_nothing_there "$program" batch none --out out
golden batch_no_folder "$program" batch nowhere --out out
golden batch_a_file "$program" batch empty.wav --out out
golden batch_no_out "$program" batch clips
golden batch "$program" batch clips --out out --jobs 2
golden batch_again "$program" batch clips --out out --jobs 1
golden batch_other_settings "$program" batch clips --out out --seed 7
golden batch_forced "$program" batch clips --out out --seed 7 --force --quiet
golden batch_older_pages "$program" batch clips --out out --seed 8 --force --no-preview
golden batch_mixed "$program" batch mixed --out mixed-out --recursive --no-preview
golden batch_mixed_files bash -c 'find mixed-out -type f -not -name summary.csv -not -name .thundercue | sort' 
golden evening_without_what_is_broken "$program" night mixed --length 0:00:20 --gap 1..2 --out evening --quiet
golden batch_summary sed 's/[^,]*$//' mixed-out/summary.csv
exit "$failed"
