#!/usr/bin/env bash
# An events file on its way through somebody's hands and spreadsheet, and back.
set -u
. "${BASH_SOURCE%/*}/check.bash"
sample=$PWD/samples/mill-pond.flac
events=$work/mill-pond.events.csv

# cue NAME [OPTION...]: cues the sample from the events file NAME into a folder of that name.
cue() {
    local name=$1
    shift
    "$program" cue "$sample" --events "$work/$name" --out "$work/$name.out" --no-preview --quiet "$@"
}
same() { cmp "$work/first.csv.out/mill-pond.frames.csv" "$work/$1.out/mill-pond.frames.csv"; }

"$program" cue "$sample" --out "$work" --sensitivity 20 --no-preview --quiet || exit 1
cp "$events" "$work/first.csv"
check it_cues_as_it_was_heard 0 '' '' cue first.csv
check at_the_sensitivity_that_it_was_made_with 0 '' '' cmp "$work/mill-pond.frames.csv" "$work/first.csv.out/mill-pond.frames.csv"

# a sensitivity beside an events file: the file's own holds, on the page and in the report, too
check another_sensitivity_is_told 0 'note: sensitivity 80 is not used: the events file was made with 20, and its cracks are taken as they stand$' '' \
    "$program" cue "$sample" --events "$work/first.csv" --out "$work/eighty" --sensitivity 80 --json "$work/eighty.json"
check another_sensitivity_changes_no_light 0 '' '' cmp "$work/mill-pond.frames.csv" "$work/eighty/mill-pond.frames.csv"
check the_report_has_the_sensitivity_of_the_file 0 '"sensitivity": "20"' '' cat "$work/eighty.json"
check the_page_has_the_sensitivity_of_the_file 0 'cue .* --sensitivity 20' '' grep -Eo 'thundercue cue [^<]{0,300}' "$work/eighty/mill-pond.preview.html"
check the_sensitivity_that_nobody_chose_is_not_told 0 '^0$' '' \
    bash -c "'$program' cue '$sample' --events '$work/first.csv' --out '$work/fifty' --no-preview | grep -c 'is not used'; true"

# the report's sum of strokes is the sum of its parts
check strokes_add_up 0 '^1 1$' '' bash -c "'$program' cue '$sample' --out '$work/sum' --no-preview |
    awk -F'[:;]' '/^  strokes/ { split(\$1, a, \" \"); n = split(\$2, part, \",\"); for (i = 1; i <= n; i++) s += part[i]; print s == a[2], part[1] ~ /cracks lit/ }'"

# what spreadsheets of other countries make of it
tr , ';' <"$events" | sed 's/\./,/g' >"$work/semicolons.csv"
check semicolons_and_decimal_commas 0 '' '' cue semicolons.csv
check semicolons_say_the_same 0 '' '' same semicolons.csv
{ printf '\xEF\xBB\xBFsep=;\r\n'; cat "$work/semicolons.csv"; printf ';;;;;;;;\r\n;;;;;;;;\r\n'; } >"$work/excel.csv"
check a_sep_line_and_blank_rows 0 '' '' cue excel.csv
check a_sep_line_says_the_same 0 '' '' same excel.csv
tr , '\t' <"$events" >"$work/tabs.csv"
check tabs 0 '' '' cue tabs.csv
check tabs_say_the_same 0 '' '' same tabs.csv
tr -d '\n' <"$events" >"$work/cr.csv"
check lines_that_end_with_cr_alone 0 '' '' cue cr.csv
check cr_alone_says_the_same 0 '' '' same cr.csv
{ head -1 "$events"; tail -n +2 "$events" | sort -r; } >"$work/sorted.csv"
check rows_in_another_order 0 '' '' cue sorted.csv
check another_order_says_the_same 0 '' '' same sorted.csv
awk -F, -v OFS=, '{ sub(/\r$/, ""); print $3, $2, $9, $1, $4, $6, $5, $7, $8 }' "$events" >"$work/columns.csv"
check columns_in_another_order 0 '' '' cue columns.csv
check other_columns_say_the_same 0 '' '' same columns.csv

# slips
sed '1s/strength/strenght/' "$events" >"$work/slip.csv"
check a_mistyped_column_is_named 2 '' "slip.csv:1: there is no column 'strenght'; did you mean strength\?" cue slip.csv
awk -F, -v OFS=, '{ sub(/\r$/, ""); print $0, NR == 1 ? "note" : "nice" }' "$events" >"$work/note.csv"
check a_strange_column_is_told 0 'columns that are not known were passed over: note' '' \
    "$program" cue "$sample" --events "$work/note.csv" --out "$work/note.csv.out" --no-preview
check a_strange_column_changes_nothing 0 '' '' same note.csv
printf 'kind,start_s\ncrack,1\ncrack,5\ncrack,1000000\n' >"$work/far.csv"
printf 'kind,start_s\r\ncrack,1\r\ncrack,99990\r\ncrack,100000\r\n' >"$work/two_far.csv"
check two_times_far_off_are_refused_too 2 '' 'two_far.csv:3: 99990\.000 s is more than an hour after all before it \(1\.000 s in line 2\).*--to' \
    "$program" cue --events "$work/two_far.csv" --out "$work/two_far"
check a_time_far_off_is_refused 2 '' 'far.csv:[0-9]+: 1000000\.000 s is more than an hour after all before it \(5\.000 s in line [0-9]+\).*--to' \
    "$program" cue --events "$work/far.csv" --out "$work/far" --no-preview --quiet
check a_time_far_off_with_to 0 '' '' "$program" cue --events "$work/far.csv" --to 10 --out "$work/far" --no-preview --quiet
check it_ends_where_it_was_told 0 '^(5|6|7|8|9|10)\.[0-9]*,' '' tail -1 "$work/far/far.frames.csv"
check a_recording_bounds_it 0 '' '' cue far.csv

# a crack that is moved in one cell lights where it was moved to
printf 'kind,start_s,end_s,peak_s\ncrack,7.000,1.000,1.000\n' >"$work/moved.csv"
check a_moved_crack 0 '' '' "$program" cue --events "$work/moved.csv" --out "$work/moved" --no-preview --quiet
check it_takes_its_end_and_peak_along 0 '^crack,7\.000,7\.000,7\.000,' '' cat "$work/moved/moved.events.csv"

# columns by output
check a_column_for_every_output 0 '' '' cue first.csv --force --outputs 20
check outputs_are_numbered 0 '^time_s,1 trunk top,2 trunk middle,.*,16 flood right,17,18,19,20' '' head -1 "$work/first.csv.out/mill-pond.frames.csv"
check such_a_file_can_be_checked 0 'form +OK' '' "$program" check "$work/first.csv.out/mill-pond.frames.csv"
exit "$failed"
