#!/usr/bin/env bash
# thundercue rig at the command line: what it prints where, and its exit status.
set -u
. "${BASH_SOURCE%/*}/check.bash"

printf '[circuit left]\nbreaker_amps = 15\n[channel 1]\nkind = flood\nwatts = 1500\ncircuit = left\n' >"$work/over.rig"
printf '[circuit left]\nbreaker_amps = 15\n[channel 4]\nkind = branch\nwatts = 5\ncircuit = left\nmin_level = 130\n' >"$work/bad.rig"

check rig_without_file_shows_the_built_in_rig 0 '^Rig sheet: built-in rig$' '' "$program" rig
check rig_of_the_sample 0 '^Rig sheet: Mill pond storm$' '' "$program" rig samples/mill-pond.rig
check rig_over_its_limit_is_a_finding 1 'circuit left: 12\.50 A all on is above 12\.00 A, 80 % of its 15 A breaker' '' "$program" rig "$work/over.rig"
check rig_as_csv_tells_findings_aside 1 '^1,channel 1,flood,' '^thundercue: finding: circuit left: 12\.50 A' "$program" rig --format csv "$work/over.rig"
check rig_with_an_error_names_its_line 2 '' "^thundercue: $work/bad.rig:7: channel 4: min_level 130 is above 100\$" "$program" rig "$work/bad.rig"
printf '[circuit left]\nbreaker = 15\n[channel 4]\nkind = Flood\nwatts = 5W\ncircuit = left\n[channel 5]\nkind = flood\nwatts = 5\n' >"$work/typos.rig"
check all_that_is_wrong_is_told 2 '' "^thundercue: $work/typos.rig:2: .* did you mean breaker_amps" "$program" rig "$work/typos.rig"
check each_with_its_line 0 '^2,5,7,$' '' bash -c "'$program' cue x.wav --rig '$work/typos.rig' 2>&1 | sed 's/.*typos.rig:\([0-9]*\):.*/\1/' | tr '\n' ','"
{ cat "$work/over.rig"; for n in $(seq 25); do echo "key$n = 1"; done; } >"$work/many.rig"
check ten_at_most 0 '^11$' '' bash -c "'$program' rig '$work/many.rig' 2>&1 | wc -l"
check and_how_many_more 2 '' "^thundercue: $work/many.rig: and 15 more\$" "$program" rig "$work/many.rig"
check a_recording_is_no_rig 2 '' '^thundercue: samples/mill-pond.flac: this is a recording, not a rig file$' "$program" rig samples/mill-pond.flac
check a_recording_is_no_timeline 1 '^samples/mill-pond.flac: this is a recording; check takes a frames file' '' "$program" check samples/mill-pond.flac
check rig_that_is_not_there 2 '' "^thundercue: $work/none.rig: can't be read: No such file or directory\$" "$program" rig "$work/none.rig"
check rig_that_is_a_folder 2 '' "can't be read: Is a directory" "$program" rig "$work"
check rig_from_standard_input 0 '^Rig sheet: standard input$' '' bash -c "sed 's/1500/15/' '$work/over.rig' | '$program' rig -"

check example_is_printed 0 '^; An example of a rig file' '' "$program" rig --example
check example_reads_back 0 '^Rig sheet: Small bolt$' '' bash -c "'$program' rig --example | '$program' rig -"
check new_rig_reads_back 0 '^12 channels \(8 branches, 4 floods\)|^12 channels' '' bash -c "'$program' rig --new --branches 8 --floods 4 | '$program' rig -"
check new_rig_says_who_shares 0 '^; 20 strings share 12 channels' '' "$program" rig --new --branches=20 --floods=4 --channels=16
check two_floods_share_one_channel 0 '^; 2 floods share 1 channel:' '' "$program" rig --new --branches 3 --floods 2 --channels 4
check new_rig_without_numbers_is_as_the_built_in_one 0 '^\[channel 16\]' '' "$program" rig --new
check new_rig_of_nothing 2 '' 'at least one branch or flood' "$program" rig --new --branches 0 --floods 0
for lamps in '--branches 3:3 4' '--floods 3:12 3' '--branches 0:0 4' '--floods=0:12 0'; do
    check "new_rig_${lamps%:*}_is_else_as_the_built_in_one" 0 "^${lamps#*:}\$" '' \
        bash -c "'$program' rig --new ${lamps%:*} | awk '/^kind = branch/ { b++ } /^kind = flood/ { f++ } END { print b + 0, f + 0 }'"
done
check branches_go_with_new 2 '' 'go with --new' "$program" rig --branches 3
check number_out_of_bounds 2 '' "--branches: '1001' is not a whole number from 0 to 1000" "$program" rig --new --branches 1001
check one_thing_at_a_time 2 '' 'give one of' "$program" rig --example --new --branches 3
check example_takes_no_file 2 '' 'take no rig file' "$program" rig --example "$work/over.rig"
check one_rig_at_a_time 2 '' 'give one rig file' "$program" rig "$work/over.rig" "$work/over.rig"
check built_in_rig_as_a_rig_file 0 '^\[channel 16\]$' '' "$program" rig --format rig
check rig_file_reads_back 0 '^Rig sheet: built-in rig$' '' bash -c "'$program' rig --format rig | '$program' rig -"
check rig_file_is_as_it_was_written 0 '' '' bash -c "'$program' rig --example | '$program' rig - --format rig > '$work/plain.rig' && '$program' rig '$work/plain.rig' --format rig | cmp - '$work/plain.rig'"
check unknown_format 2 '' "--format: 'xml' is not text, csv or rig" "$program" rig --format xml
# The files are the same whatever memory held before (glibc fills it with this byte).
for byte in 0 85; do
    MALLOC_PERTURB_=$byte "$program" cue samples/mill-pond.flac --rig samples/mill-pond.rig --out "$work/filled-$byte" --quiet
done
check files_do_not_depend_on_what_memory_held 0 '' '' diff -r "$work/filled-0" "$work/filled-85" --exclude .thundercue

check rig_takes_no_settings 2 '' '`thundercue rig. doesn.t take it' "$program" rig --seed 3
check notice_for_visitors 0 'FLASHING LIGHT' '' "$program" rig --notice
check help_of_rig 0 '^Usage: thundercue rig' '' "$program" rig --help
check disk_full_is_told 4 '' "standard output can't be written" bash -c "'$program' rig >/dev/full"
check commas_as_decimal_signs_change_nothing 0 '1\.00 A' '' env LC_ALL=de_DE.UTF-8 LC_NUMERIC=de_DE.UTF-8 "$program" rig
exit "$failed"
