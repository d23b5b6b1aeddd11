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

pond="$work/storms/mill-pond.flac" bare="$work/storms/unlabelled.flac"
tune() { "$program" tune "$@"; }

# ---- Without labels ----
check tune_without_labels_says_that_nothing_can_choose 0 '^> Without labels nothing can choose\. Start with 50, right for most recordings\.$' '' tune "$bare"
check tune_without_labels_marks_50 0 '^> +50 ' '' tune "$bare"
check tune_without_labels_names_what_was_asked_for 0 'or with 40, which was asked for\.$' '' tune "$bare" --sensitivity 40
check tune_without_labels_tells_how_to_get_some 0 'tune RECORDING --format labels > NAME\.labels\.csv' '' tune "$bare"
tune "$bare" >"$work/table.txt"
tune "$bare" --format csv | tr -d '\r' >"$work/rows.csv"
# the next value either way with another number of cracks, from the rows of the CSV
true_that tune_names_the_next_values_that_differ bash -c "
    awk -F, 'NR > 1 { n[\$2] = \$3 } END {
        for (s = 45; s >= 0 && n[s] == n[50]; s -= 5); if (s >= 0) printf \"^ +%d finds %d fewer: without( [0-9.]+,){%d} [0-9.]+ s\$\n\", s, n[50] - n[s], n[50] - n[s] - 1
        for (s = 55; s <= 100 && n[s] == n[50]; s += 5); if (s <= 100) printf \"^ +%d finds %d more: also( [0-9.]+,){%d} [0-9.]+ s\$\n\", s, n[s] - n[50], n[s] - n[50] - 1
    }' '$work/rows.csv' >'$work/wanted'
    [ \$(wc -l <'$work/wanted') = 2 ] || exit 1
    while read -r line; do grep -Eq \"\$line\" '$work/table.txt' || { echo \"\$line\"; exit 1; }; done <'$work/wanted'"
true_that tune_calls_steady_only_what_is bash -c "
    read -r from to count < <(sed -En 's/^From ([0-9]+) to ([0-9]+) the number of cracks stays the same \(([0-9]+)\).*/\1 \2 \3/p' '$work/table.txt')
    awk -F, -v from=\$from -v to=\$to -v count=\$count 'NR > 1 && \$2 >= from && \$2 <= to { rows++; if (\$3 != count) bad = 1 } END { exit bad || rows < 3 }' '$work/rows.csv'"
# a second of silence, 8 kHz, 16 bits
{ printf 'RIFF\244\076\0\0WAVEfmt \020\0\0\0\001\0\001\0\100\037\0\0\200\076\0\0\002\0\020\0data\200\076\0\0'
  head -c 16000 /dev/zero; } >"$work/quiet.wav"
check tune_of_silence_sends_nowhere 0 '^Every sensitivity finds the same here: no crack\.$' '' tune "$work/quiet.wav"

check tune_tells_which_row_stands_for_one_between 0 '^  \(52 has no row of its own; the nearest, 50, stands for it\.\)$' '' tune "$bare" --sensitivity 52

# ---- With labels ----
check tune_marks_the_best_by_the_labels_beside_it 0 '^\* +[0-9]+ +[0-9]+ +[0-9.]+ ' '' tune "$pond"
check tune_marks_the_one_to_take 0 '^> +50 +[0-9]+ +[0-9.]+ ' '' tune "$pond"
check tune_tells_the_timing_error 0 'Timing error: median [0-9.]+ ms, 95th percentile' '' tune "$pond"
check tune_stays_where_labels_are_too_few_to_tell 0 '^> Stay at 50: [0-9]+ fits better \(F 0\.[0-9]+; 50: 0\.[0-9]+\), but 12 labelled cracks can.t tell the two apart\.$' '' tune "$pond"
check tune_of_two_or_three_labels_stays 0 '^> Stay at 50: 1 labelled crack that must be found can.t choose; 10 are the least' '' tune "$bare" --labels "$work/few.csv"
check tune_of_two_or_three_labels_names_what_fits_them 0 'By these, [0-9]+ fits best \(F [01]\.[0-9]+' '' tune "$bare" --labels "$work/few.csv"
check tune_says_how_many_have_no_label 0 '^[0-9]+ of the 11 cracks heard at 50 have no label\. Label those that are cracks, too, or delete the label file:$' '' tune "$bare" --labels "$work/few.csv"
check tune_calls_false_only_what_may_be 0 '^  Without a label at 50: [0-9.]+,' '' tune "$bare" --labels "$work/few.csv"
check tune_never_saves_what_few_labels_say 0 '^wrote .*few\.ini with sensitivity 50, as it was$' '' tune "$bare" --labels "$work/few.csv" --save "$work/few.ini"
true_that tune_keeps_50_by_few_labels grep -q '^sensitivity = 50$' "$work/few.ini"
printf 'kind,start_s,weight\ncrack,17.5,3\ncrack,3,1\ncrack,9,1\n' >"$work/doubtful.csv"
check tune_says_which_labels_do_not_count 0 '^  2 doubtful cracks \(weight 1\): neither finding nor missing them counts\.$' '' tune "$bare" --labels "$work/doubtful.csv"
printf 'kind,start_s,weight\ncrack,3,1\n' >"$work/doubtful.csv"
check tune_says_that_nothing_must_be_found 0 '^> Stay at 50: the labels name no crack that must be found \(weight 2 or 3, or without a weight\)\.$' '' tune "$bare" --labels "$work/doubtful.csv"
check tune_of_one_doubtful_label 0 '^  1 doubtful crack \(weight 1\): neither finding nor missing it counts\.$' '' tune "$bare" --labels "$work/doubtful.csv"
tune "$pond" >"$work/table.txt"
tune "$pond" --format csv | tr -d '\r' | awk -F, 'NR > 1 && $11 > best { best = $11 } NR > 1 { f[$2] = $11 } END { for (s = 0; s <= 100; s += 5) if (f[s] == best) print s }' >"$work/best"
sed -En 's/^\* +([0-9]+) .*/\1/p' "$work/table.txt" | cmp -s - "$work/best"
true_that tune_marks_all_that_are_best test $? = 0
true_that tune_calls_best_what_is grep -q "^> Stay at 50: $(head -1 "$work/best") fits better" "$work/table.txt"
check tune_explains_its_letters 0 '^P \(precision\): ' '' tune "$pond"

# What is missed and false, from the label file and what listen prints, within 50 ms.
"$program" listen "$pond" --format csv | awk -F, '$1 == "crack" { print $2 }' >"$work/heard"
tr -d '\r' <samples/mill-pond.labels.csv | awk -F, -v heard="$work/heard" '
    BEGIN { while ((getline t <heard) > 0) h[n++] = t }
    $1 == "crack" && $4 != 1 { near = 0; for (i = 0; i < n; i++) if (h[i] - $2 <= .0501 && $2 - h[i] <= .0501) near = 1; if (!near) printf "%s %.3f", some++ ? "," : "", $2 }
    END { print " s" }' >"$work/missed"
true_that tune_lists_what_is_missed bash -c "[ \$(wc -c <'$work/missed') -gt 4 ] && grep -qF \"Missed at 50:\$(cat '$work/missed')\" '$work/table.txt'"
check tune_lists_what_is_false 0 '^  False at 50, being without a label: [0-9.]+, [0-9.]+ s$' '' tune "$pond"
printf 'kind,start_s,weight\ncrack,17.5,2\ncrack,30,3\n' >"$work/missed.csv"
check tune_lists_the_unmistakable_apart 0 '\(1 of the missed unmistakable: weight 3\)' '' tune "$bare" --labels "$work/missed.csv" --sensitivity 0
check tune_of_a_folder_lists_no_times 0 '^All 2 together' '' tune "$work/storms"
true_that tune_of_a_folder_is_short bash -c "! grep -E 'Missed|False at|without|also' '$work/out'"

# All that can be heard is a crack to this ear, 7 ms earlier: enough to tell 50 from the best.
tune "$bare" --sensitivity 100 --format labels | tr -d '\r' | awk -F, -v OFS=, '$1 == "crack" { $2 = sprintf("%.3f", $2 - .007) } 1' >"$work/more.csv"
check tune_says_what_is_clearly_worse 0 '^> Take [0-9]+: by 17 labelled cracks 50 fits clearly worse \(F 0\.[0-9]+; [0-9]+: [01]\.[0-9]+\)' '' tune "$bare" --labels "$work/more.csv" --save "$work/more.ini"
check tune_says_what_it_saves 0 '^wrote .*more\.ini with sensitivity (8|9|10)[05]$' '' tune "$bare" --labels "$work/more.csv" --save "$work/more.ini" --force
true_that tune_saves_what_is_clearly_better grep -Eq '^sensitivity = (8|9|10)[05]$' "$work/more.ini"

# Two recordings, one of them with a label alone: it is told which.
mkdir "$work/half"
cp samples/mill-pond.flac "$work/half/a.flac"; cp samples/mill-pond.labels.csv "$work/half/a.labels.csv"
cp samples/mill-pond.flac "$work/half/b.flac"; cp "$work/few.csv" "$work/half/b.labels.csv"
check tune_of_a_folder_tells_where_labels_are_missing 0 '^b\.flac .* most have no label$' '' tune "$work/half"
check tune_of_a_folder_does_not_choose_by_missing_labels 0 '^[0-9]+ of the 22 cracks heard at 50 have no label, most of them where it says so above\.' '' tune "$work/half"
true_that tune_of_a_folder_tells_of_no_other bash -c "! grep -q '^a\.flac.*no label' '$work/out'"

# ---- Labels that nobody corrected ----
tune "$bare" --sensitivity 80 --format labels >"$work/from.csv"
check tune_of_its_own_labels_is_perfect_where_they_come_from 0 '^[* ] +80 +[0-9]+ .* 1\.00 +1\.00 +1\.00 ' '' tune "$bare" --labels "$work/from.csv"
check tune_knows_its_own_labels 0 '^The labels are exactly what is heard at 80, so they can only agree with it: correct them by ear first\.$' '' tune "$bare" --labels "$work/from.csv"
check tune_of_its_own_labels_stays 0 '^> Stay at 50 until then\.$' '' tune "$bare" --labels "$work/from.csv"
true_that tune_of_its_own_labels_saves_50 bash -c "'$program' tune '$bare' --labels '$work/from.csv' --save '$work/from.ini' | grep -q 'sensitivity 50, as it was$'"
"$program" listen "$bare" --sensitivity 72 --format csv >"$work/events.csv"
check tune_takes_an_events_file_for_labels 0 'exactly what is heard at 72,' '' tune "$bare" --labels "$work/events.csv"
sed '3d' "$work/from.csv" | sed 's/^\(crack,.*\)2\(.\?\)$/\12\2/' >"$work/edited.csv"
check tune_takes_corrected_labels_as_such 0 '^> Stay at 50' '' tune "$bare" --labels "$work/edited.csv"
true_that tune_does_not_take_corrected_ones_for_its_own bash -c "! grep -q 'exactly what is heard' '$work/out'"

# ---- A part of a recording ----
tune "$pond" --from 10 --to 20 --format csv | tr -d '\r' | awk -F, 'NR > 1 { print $2 "," $3 }' >"$work/part"
for s in $(seq 0 5 100); do echo "$s,$("$program" listen "$pond" --sensitivity $s --format csv | awk -F, '$1 == "crack" && $2 >= 10 && $2 < 20' | wc -l)"; done >"$work/wanted"
true_that tune_of_a_part_counts_what_lies_in_it cmp "$work/part" "$work/wanted"
tr -d '\r' <samples/mill-pond.labels.csv | awk -F, '$1 == "kind" || ($1 == "crack" && $2 >= 10 && $2 < 20)' >"$work/part.csv"
tune "$pond" --from 10 --to 20 | grep '^[>* ] *[0-9]' >"$work/whole_labels"
true_that tune_of_a_part_leaves_out_the_other_labels bash -c "'$program' tune '$bare' --labels '$work/part.csv' --from 10 --to 20 | grep '^[>* ] *[0-9]' | cmp - '$work/whole_labels'"
tune "$pond" --from 10 --to 20 --format labels | tr -d '\r' >"$work/part.csv"
true_that tune_of_a_part_makes_labels_of_it awk -F, 'NR > 1 { n++; if ($2 < 10 || $2 >= 20 || $3 > 20) exit 1 } END { exit n < 3 }' "$work/part.csv"
check tune_of_a_part_after_the_end 2 '' 'from: 40 s is after the end of the recording at 33 s$' tune "$pond" --from 40
check tune_of_a_part_turned_round 2 '' 'to: 5 s is not after --from' tune "$pond" --from 10 --to 5
check tune_of_no_part 2 '' "from: 'soon' is not a number of seconds" tune "$pond" --from soon
check tune_of_a_part_of_a_folder 2 '' 'from and --to go with one recording' tune "$work/storms" --from 1

# ---- Labels that can't be meant ----
printf 'kind,start_s,weight\ncrack,9.2,3\ncrack,17500,3\ncrack,18200,3\n' >"$work/late.csv"
check tune_names_labels_after_the_end 0 '^> ' 'late\.csv:3: start_s 17500\.000 is after the end of the recording at 33\.000 s and left out \(and so is 1 more\); times are in seconds; if these are milliseconds, this one should be 17\.500$' tune "$bare" --labels "$work/late.csv"
printf 'kind,start_s\ncrack,9200\ncrack,17500\n' >"$work/late.csv"
check tune_refuses_labels_that_all_are_late 2 '' 'late\.csv:2: start_s 9200\.000, like all others, is after the end .* should be 9\.200$' tune "$bare" --labels "$work/late.csv"
printf 'kind,start_s,weight\ncrack,9.2,2\ncrack,17.5,2\ncrack,9.2,3\n' >"$work/twice.csv"
check tune_names_a_label_that_is_there_twice 0 ' of 2 found within' 'twice\.csv:4: line 2 has a crack at 9\.200 s, too; it counts once: delete one of the two$' tune "$bare" --labels "$work/twice.csv"
printf 'kind,start_s\ncrack,0.1\ncrack,0.3\n' >"$work/astray.csv"
check tune_says_when_no_label_is_near_anything 0 '^No label is within 50 ms of a crack heard at any sensitivity\. Are they of this recording' '' tune "$bare" --labels "$work/astray.csv"
printf 'kind,start_s,colour\ncrack,9.2,blue\n' >"$work/column.csv"
check tune_names_columns_that_it_passes_over 0 '^> ' 'columns that are not known were passed over: colour' tune "$bare" --labels "$work/column.csv"
printf 'kind,start_s\n' >"$work/quiet.labels.csv"
check tune_of_nothing_found_and_nothing_to_find_has_no_score 0 '^> +50 +0 +0\.0 +0 +0 +0 +- +- +-$' '' tune "$work/quiet.wav"
check tune_as_csv_has_no_score_of_nothing 0 '^quiet\.wav,50,0,0,0\.00,0,0,0,,,,' '' tune "$work/quiet.wav" --format csv

# ---- Files that were meant to be labels ----
mkdir "$work/misnamed"
cp samples/mill-pond.flac "$work/misnamed/a.flac"
for name in a.label.csv a.flac.labels.csv b.labels.csv; do cp samples/mill-pond.labels.csv "$work/misnamed/$name"; done
check tune_names_a_misnamed_label_file 0 '^> Without' 'a\.label\.csv is not used: labels of a\.flac must be named a\.labels\.csv$' tune "$work/misnamed/a.flac"
check tune_names_labels_with_a_whole_name 0 '\(no labels\)' 'a\.flac\.labels\.csv is not used: labels of a\.flac must be named a\.labels\.csv$' tune "$work/misnamed"
check tune_names_labels_without_a_recording 0 '\(no labels\)' 'b\.labels\.csv is not used: there is no recording of that name beside it$' tune "$work/misnamed"
check tune_of_labels_does_not_save 2 '' 'save does nothing with --format labels; for a file of them say' tune "$bare" --format labels --save "$work/no.ini"
check tune_of_labels_takes_none 2 '' 'labels does nothing with --format labels' tune "$bare" --format labels --labels "$work/few.csv"
check tune_of_labels_forces_nothing 2 '' 'force does nothing with --format labels' tune "$bare" --format labels --force
check tune_of_labels_in_a_spreadsheet_of_a_country_with_commas 0 ' of 1 ' '' tune "$bare" --labels <(printf 'kind,start_s,end_s,weight\ncrack,"17,5",,2\n')

check tune_gives_no_labels_of_a_folder 2 '' 'goes with one recording' "$program" tune "$work/storms" --format labels
check tune_of_a_folder_has_a_line_each 0 '^unlabelled\.flac +33\.0 .*\(no labels\)$' '' "$program" tune "$work/storms"
check tune_of_a_folder_has_a_sum 0 '^All 2 together \(1 labelled\)$' '' "$program" tune "$work/storms"
check tune_as_csv_has_its_columns 0 '^recording,sensitivity,cracks,rumbles,cracks_a_minute,hits,misses,false_alarms,precision,recall,f,rumble_f' '' "$program" tune --format csv "$work/storms/mill-pond.flac"
check tune_saves_what_it_chose 0 '^wrote .*chosen.ini with sensitivity 50, as it was$' '' "$program" tune "$work/storms/mill-pond.flac" --save "$work/chosen.ini"
true_that tune_saved_settings_are_read_by_listen "$program" listen "$work/storms/mill-pond.flac" --settings "$work/chosen.ini"
check tune_does_not_overwrite_unasked 4 '' "chosen\.ini: exists already" bash -c "'$program' tune '$work/storms/mill-pond.flac' --save '$work/chosen.ini' >/dev/null"
check tune_overwrites_when_told_to 0 '^wrote' '' "$program" tune "$work/storms/mill-pond.flac" --save "$work/chosen.ini" --force
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
