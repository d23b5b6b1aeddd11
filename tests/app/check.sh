#!/usr/bin/env bash
# thundercue check at the command line: what it finds, and its exit status.
set -u
. "${BASH_SOURCE%/*}/check.bash"

# timeline NAME PATTERN: one lamp, a row every 25 ms, 1 = on
timeline() {
    local row=0 i
    printf 'time_s,lamp\r\n' >"$work/$1"
    for ((i = 0; i < ${#2}; i++, row += 25)); do
        printf '%d.%03d,%s\r\n' $((row / 1000)) $((row % 1000)) "$([ "${2:i:1}" = 1 ] && echo 100.0 || echo 0.0)" >>"$work/$1"
    done
}

timeline calm.csv 0001000000000000000000000000000100000
timeline fast.csv 01010101000
timeline half.csv 010111111111111111111111111111111111111111111111111111111110
timeline lit.csv 0001
timeline seam.csv 0100100000000000000000000000000000000000000000000000000000000010010
printf '[channel 1]\nname = lamp\nkind = flood\nwatts = 1500\ncircuit = left\n[circuit left]\nbreaker_amps = 15\n' >"$work/one.rig"
printf 'time_s,lamp\n0.000,0.0\n0.025,0.0\n0.075,bright\n0.100,130.0\n' >"$work/odd.csv"
printf 'time_s,lamp,pond\n0.000,0.0,0.0\n' >"$work/two.csv"
printf '\x00\x01\x02' >"$work/noise.csv"

printf 'kind,start_s\ncrack,1\n' >"$work/marks.csv"
check other_tables_are_named 1 '^[^ ]*marks.csv: this is an events or label file; what can be checked is a frames file' '' "$program" check "$work/marks.csv"
printf 'file,status,message\na.wav,done,\n' >"$work/summary.csv"
check a_summary_is_named 1 'summary.csv: this is a summary of a folder' '' "$program" check "$work/summary.csv"
printf 'start_s,end_s,file,gain_db,seed\n0.000,4.000,a.wav,0.0,1\n' >"$work/evening.csv"
check a_running_order_is_named 1 'evening.csv: this is the running order of an evening' '' "$program" check "$work/evening.csv"
check a_calm_timeline_passes 0 'result   OK' '' "$program" check "$work/calm.csv"
check without_a_rig_it_says_so 0 'rig      none given' '' "$program" check "$work/calm.csv"
check flashes_are_counted_and_placed 1 'at most 4 in any second \(limit 3\): TOO MANY' '' "$program" check "$work/fast.csv"
check half_a_flash_is_explained 0 'at most 1\.5 in any second \(limit 3; one that only starts or only ends in it counts half\)$' '' "$program" check "$work/half.csv"
check whole_flashes_need_no_words 0 'at most [1-3] in any second \(limit 3\)$' '' "$program" check "$work/calm.csv"
check the_second_and_the_channels_are_named 1 'most in the second before 0\.200 s, all, channel 1$' '' "$program" check "$work/fast.csv"
check a_lower_limit_can_be_asked 1 'limit 1\): TOO MANY' '' "$program" check --flash-limit 1 "$work/seam.csv"
check limit_off_is_said_aloud 0 'caution  The flash limit is off' '' "$program" check --flash-limit off "$work/fast.csv"
check a_loop_has_a_seam 1 'across the seam of the loop' '' "$program" check --loop "$work/seam.csv"
check without_a_loop_it_has_none 0 'result   OK' '' "$program" check "$work/seam.csv"
check a_lit_end_is_found 1 'LAST ROW IS NOT DARK' '' "$program" check "$work/lit.csv"
check form_is_named_by_line_and_column 1 "form +line 4, column 2: 'bright' is not a number" '' "$program" check "$work/odd.csv"
check uneven_steps_are_named 1 'time +line 4, column 1: a step of 50 ms where the others are 25 ms' '' "$program" check "$work/odd.csv"
check levels_out_of_range_are_named 1 'range +line 5, column 2: level 130 is outside 0 to 100' '' "$program" check "$work/odd.csv"
check load_is_judged 1 'MORE THAN 80 % OF THE BREAKER' '' "$program" check --rig "$work/one.rig" "$work/calm.csv"
check channels_must_be_the_rigs 1 'rig +line 1, column 3: "pond" is no channel of the rig' '' "$program" check --rig "$work/one.rig" "$work/two.csv"
sed '1s/lamp,pond/lamp,lamp/' "$work/two.csv" >"$work/twins.csv"
check two_columns_of_one_name 1 'rig +line 1, column 3: "lamp" is there twice' '' "$program" check "$work/twins.csv"
check quiet_prints_nothing 1 '' '' "$program" check --quiet "$work/fast.csv"
check standard_input_is_read_too 0 'result   OK' '' bash -c "'$program' check - <'$work/calm.csv'"
check a_file_of_noise 1 'a zero byte' '' "$program" check "$work/noise.csv"
check a_file_that_is_not_there 3 '' "^thundercue: $work/none.csv: can't be read: No such file or directory\$" "$program" check "$work/none.csv"
check a_folder 3 '' "^thundercue: $work: can't be read: Is a directory\$" "$program" check "$work"
check a_rig_that_is_wrong 2 '' "two.csv:" "$program" check --rig "$work/two.csv" "$work/calm.csv"
check no_file_given 2 '' 'give one frames file' "$program" check
check an_unknown_unit 2 '' "--levels: 'lumens' is not guess, percent, 8bit or unit" "$program" check --levels lumens "$work/calm.csv"
check json_is_written 1 'TOO MANY' '' "$program" check --json "$work/fast.json" "$work/fast.csv"
check json_says_the_same 0 '"too_many": true' '' cat "$work/fast.json"
check json_is_not_overwritten 4 'result' 'exists already' "$program" check --json "$work/fast.json" "$work/calm.csv"
check json_is_overwritten_by_force 0 'result   OK' '' "$program" check --force --json "$work/fast.json" "$work/calm.csv"
check disk_full_is_told 4 '' "standard output can't be written" bash -c "'$program' check '$work/calm.csv' >/dev/full"
check commas_as_decimal_signs_change_nothing 0 '0\.900 s, a row every 25 ms' '' env LC_ALL=de_DE.UTF-8 LC_NUMERIC=de_DE.UTF-8 "$program" check "$work/calm.csv"

# one of 40 columns strobes at 10 Hz: 1/40 of the light if all are alike (below the 10 % of
# WCAG 2.2, 2.3.1), nearly all of it where that one is a big flood
strobe() {
    local i row c
    printf 'time_s'; for ((c = 1; c <= 40; c++)); do printf ',l%d' $c; done; printf '\r\n'
    for ((i = 0; i <= 80; i++)); do
        row=$((i * 25)); printf '%d.%03d' $((row / 1000)) $((row % 1000))
        for ((c = 1; c < 40; c++)); do printf ',0.0'; done
        [ $((i / 2 % 2)) = 1 ] && echo ,100.0 || echo ,0.0
    done
}
strobe >"$work/strobe.csv"
for ((c = 1; c <= 40; c++)); do
    printf '[channel %d]\nname = l%d\nkind = flood\ncircuit = mains\nwatts = %d\n' $c $c $((c == 40 ? 500 : 1))
done >"$work/strobe.rig"
printf '[circuit mains]\nbreaker_amps = 15\n' >>"$work/strobe.rig"
check with_its_rig_a_strobe_is_found 1 'at most (9\.5|10) in any second \(limit 3(; one that only starts or only ends in it counts half)?\): TOO MANY' '' "$program" check --rig "$work/strobe.rig" "$work/strobe.csv"
check without_its_rig_nobody_can_tell 1 "result   CAN'T TELL WITHOUT THE RIG" '' "$program" check "$work/strobe.csv"
check the_column_is_named 1 'channel 40 "l40", if it were all the light, flashes (9\.5|10) times' '' "$program" check --json "$work/strobe.json" "$work/strobe.csv"
check json_cannot_tell_either 0 '"cannot_tell_without_rig": true' '' cat "$work/strobe.json"
check the_rig_may_change_it_either_way 0 'count may be lower or higher' '' "$program" check "$work/calm.csv"
exit "$failed"
