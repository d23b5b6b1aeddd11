#!/usr/bin/env bash
# thundercue tune at the command line: tables, saving, and its exit status.
set -u
. "${BASH_SOURCE%/*}/check.bash"

# true NAME COMMAND...
true_that() {
    local name=$1
    shift
    if "$@" >"$work/out" 2>&1; then echo "[       OK ] $name"; else head -5 "$work/out"; echo "[  FAILED  ] $name"; failed=1; fi
}

mkdir "$work/storms" "$work/empty"
cp samples/mill-pond.flac samples/mill-pond.labels.csv "$work/storms/"
cp samples/mill-pond.flac "$work/storms/unlabelled.flac"
printf 'kind,start_s,weight\ncrack,17.5,3\n' >"$work/few.csv"
printf 'kind,start_s,weight\ncrack,soon,3\n' >"$work/bad.csv"

check tune_marks_the_best_by_the_labels_beside_it 0 '^\* +[0-9]+ +[0-9]+ +[0-9.]+ ' '' "$program" tune "$work/storms/mill-pond.flac"
check tune_tells_the_timing_error 0 'timing error: median [0-9.]+ ms, 95th percentile' '' "$program" tune "$work/storms/mill-pond.flac"
check tune_without_labels_says_that_nothing_tells_right_from_wrong 0 '^No labels: nothing says' '' "$program" tune "$work/storms/unlabelled.flac"
check tune_stays_where_labels_are_too_few 0 '[0-9] labelled cracks that must be found are too few to choose: anything from [0-9]+ to [0-9]+ may be as good. Stay at 50.$' '' "$program" tune "$work/storms/mill-pond.flac"
check tune_says_what_is_clearly_worse 0 'By these labels 50 is clearly worse: take 0. If some cracks have no label yet' '' "$program" tune "$work/storms/unlabelled.flac" --labels "$work/few.csv"
check tune_without_labels_says_where_to_look 0 'steadiest from [0-9]+ \([0-9]+ cracks\) to [0-9]+ ' '' "$program" tune "$work/storms/unlabelled.flac"
printf 'kind,start_s,weight\ncrack,17.5,3\ncrack,3,1\ncrack,9,1\n' >"$work/doubtful.csv"
check tune_says_which_labels_do_not_count 0 '^  2 labels of weight 1, being doubtful, count neither way\.$' '' "$program" tune "$work/storms/unlabelled.flac" --labels "$work/doubtful.csv"
"$program" tune "$work/storms/mill-pond.flac" >"$work/table.txt"
true_that tune_marks_all_that_are_as_good awk '/^[* ] +[0-9]+ +[0-9]/ { star = $1 == "*"; f = $(star + 9); if (f > best) best = f; if (star) { stars++; if (low == "" || f < low) low = f } }
    END { exit !(stars >= 1 && low == best) }' "$work/table.txt"
check tune_explains_its_letters 0 '^P \(precision\): ' '' "$program" tune "$work/storms/mill-pond.flac"
"$program" tune "$work/storms/unlabelled.flac" --sensitivity 50 --format labels >"$work/from.csv"
check tune_of_its_own_labels_is_perfect_where_they_come_from 0 ' 50 +[0-9]+ .* 1\.00 +1\.00 +1\.00 ' '' "$program" tune "$work/storms/unlabelled.flac" --labels "$work/from.csv"
check tune_tells_an_f_once 0 '^0$' '' bash -c "'$program' tune '$work/storms/unlabelled.flac' --labels '$work/from.csv' | grep -c 'has F'; true"
"$program" listen "$work/storms/unlabelled.flac" --format csv >"$work/events.csv"
check tune_takes_an_events_file_for_labels 0 ' 50 +[0-9]+ .* 1\.00 +1\.00 +1\.00 ' '' "$program" tune "$work/storms/unlabelled.flac" --labels "$work/events.csv"
check tune_gives_no_labels_of_a_folder 2 '' 'goes with one recording' "$program" tune "$work/storms" --format labels
check tune_of_a_folder_has_a_line_each 0 '^unlabelled\.flac +33\.0 .*\(no labels\)$' '' "$program" tune "$work/storms"
check tune_of_a_folder_has_a_sum 0 '^All 2 together \(1 labelled\)$' '' "$program" tune "$work/storms"
check tune_as_csv_has_its_columns 0 '^recording,sensitivity,cracks,rumbles,cracks_a_minute,hits,misses,false_alarms,precision,recall,f,rumble_f' '' "$program" tune --format csv "$work/storms/mill-pond.flac"
check tune_saves_what_it_chose 0 '^wrote .*chosen.ini$' '' "$program" tune "$work/storms/mill-pond.flac" --save "$work/chosen.ini"
true_that tune_saved_settings_are_read_by_listen "$program" listen "$work/storms/mill-pond.flac" --settings "$work/chosen.ini"
check tune_does_not_overwrite_unasked 4 '' "chosen\.ini: exists already" bash -c "'$program' tune '$work/storms/mill-pond.flac' --save '$work/chosen.ini' >/dev/null"
check tune_overwrites_when_told_to 0 'best' '' "$program" tune "$work/storms/mill-pond.flac" --save "$work/chosen.ini" --force
mkdir -p "$work/odd/folder.wav"
cp samples/mill-pond.flac "$work/odd/no ending"
cp samples/mill-pond.flac "$work/odd/.hidden.flac"
echo none >"$work/odd/notes.txt"
check tune_takes_what_looks_like_sound 0 '^All 1 together' '' "$program" tune "$work/odd"
check tune_of_an_empty_folder 3 '' 'there are no recordings in it' "$program" tune "$work/empty"
check tune_of_what_is_not_there 3 '' 'none\.wav: ' "$program" tune "$work/none.wav"
check tune_with_wrong_labels_names_their_line 2 '' "bad\.csv:2: start_s 'soon'" "$program" tune "$work/storms/unlabelled.flac" --labels "$work/bad.csv"
check tune_of_a_folder_takes_no_labels_file 2 '' 'labels goes with one recording' "$program" tune "$work/storms" --labels "$work/few.csv"
check tune_of_nothing 2 '' 'give one recording or one folder' "$program" tune
printf 'RIFF' >"$work/storms/broken.wav"
check tune_goes_on_after_a_broken_recording 1 '^All 2 together' 'broken\.wav: ' "$program" tune "$work/storms"

# the number of cracks never falls as the sensitivity rises, and the table is the same for the csv
"$program" tune --format csv "$work/storms/mill-pond.flac" | tr -d '\r' >"$work/sweep.csv"
true_that tune_finds_no_less_with_more_sensitivity awk -F, 'NR > 1 { if ($3 < last) exit 1; last = $3 }' "$work/sweep.csv"
true_that tune_sweeps_the_whole_range awk -F, 'NR == 2 && $2 != 0 { exit 1 } END { if ($2 != 100 || NR != 22) exit 1 }' "$work/sweep.csv"
true_that tune_counts_what_listen_counts bash -c "
    for s in 10 50 90; do
        a=\$(awk -F, -v s=\$s '\$2 == s { print \$3 }' '$work/sweep.csv')
        b=\$('$program' listen '$work/storms/mill-pond.flac' --sensitivity \$s --format csv | grep -c ^crack)
        [ \"\$a\" = \"\$b\" ] || exit 1
    done"
exit $failed
