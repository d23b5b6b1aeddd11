#!/usr/bin/env bash
# A live show as others see it: an independent receiver from npm and tshark's
# dissector look at what `play` and `light` send. In a network of its own that
# ends at this machine (unshare), so that nothing leaves it. What is asserted
# does not depend on the machine's speed.
set -u
out=${1:-build/plain}
here=tests/io/receiver modules=$PWD/build/receiver
skip() { echo "[  SKIPPED ] live show: $1"; exit 0; }
[ "$out" = build/plain ] || skip "it runs with the plain build"
command -v node >/dev/null || skip "no node here; 'make setup-test' installs it"
[ -d "$modules/node_modules/sacn" ] || skip "no receiver here; 'make setup-test' installs it"
command -v ip >/dev/null || skip "no ip command here; 'make setup-test' installs it"
unshare -rnm true 2>/dev/null || skip "no network of its own may be made here"
if [ -z "${INSIDE:-}" ]; then INSIDE=1 exec unshare -rnm "$BASH" "$0" "$@"; fi
mount -t tmpfs none /dev/shm 2>/dev/null # a sound server that is killed leaves things there
ip link set lo up && ip link set lo multicast on && ip route add 224.0.0.0/4 dev lo || exit 1
. "${BASH_SOURCE%/*}/check.bash"
program=$(realpath "$program")

# A show of three seconds with flashes in it, in levels of 0..255.
"$program" cue samples/mill-pond.flac --out "$work" --levels 8bit --no-preview --quiet
awk -F, 'NR == 1 || ($1 >= 17 && $1 < 20) { print } END { for (i = 0; i < 2; i++) { printf "%.3f", 20 + i / 40; for (c = 2; c <= NF; c++) printf ",0"; print "" } }' \
    "$work/mill-pond.frames.csv" >"$work/storm.csv"
printf '[circuit a]\nbreaker_amps = 15\n' >"$work/wide.rig"
for channel in 1 2 3; do
    printf '[channel %d]\nkind = flood\nwatts = 5\ncircuit = a\nslot = %d\n' $channel $((512 * channel)) >>"$work/wide.rig"
done
printf '[network]\nuniverse = 7\npriority = 150\n' >>"$work/wide.rig"

# Waits for something, up to twenty seconds.
until_true() { for i in $(seq 400); do eval "$1" && return; sleep 0.05; done; echo "never: $1"; return 1; }

# show NAME UNIVERSES STATUS FRAMES SIGNAL COMMAND...: runs the command, sends it
# the signal after a second (- = none), and judges what was received.
show() {
    local name=$1 universes=$2 status=$3 frames=$4 signal=$5 got ok=1
    shift 5
    node $here/receive.mjs "$modules" "$universes" 1500 "$work/$name.pcap" >"$work/$name.txt" &
    local receiver=$!
    for i in $(seq 200); do grep -qs ready "$work/$name.txt" && break; sleep 0.05; done
    "$@" >"$work/out" 2>"$work/err" </dev/null &
    local player=$!
    if [ "$signal" != - ]; then
        for i in $(seq 200); do [ "$(wc -l <"$work/$name.txt")" -gt 5 ] && break; sleep 0.05; done
        kill -"$signal" $player
    fi
    wait $player 2>/dev/null
    got=$?
    wait $receiver
    [ $got = "$status" ] || { echo "exit status $got, expected $status"; cat "$work/err"; ok=0; }
    node $here/judge.mjs "$work/$name.txt" "$frames" "$universes" || ok=0
    if command -v tshark >/dev/null; then
        # every packet taken apart by another program: it must read the same fields, and nothing malformed
        tshark -r "$work/$name.pcap" --enable-heuristic acn -o acn.dmx_enable:TRUE -Y acn.dmx.universe -T fields -E separator=' ' \
            -e acn.dmx.universe -e acn.dmx.seq_number -e acn.dmx.priority -e acn.dmx.count -e acn.dmx.first_property_address \
            -e acn.dmx.increment -e acn.dmx.option_s -e acn.cid -e _ws.malformed 2>/dev/null | tr -d - | sed 's/ *$//' >"$work/$name.theirs"
        awk '$1 != "ready" && $1 != "TROUBLE" { print $2, $3, $5, 513, 0, 1, $4 == 64 ? 1 : 0, $6 }' "$work/$name.txt" >"$work/$name.ours"
        cmp -s "$work/$name.ours" "$work/$name.theirs" || { echo "tshark reads otherwise:"; diff "$work/$name.ours" "$work/$name.theirs" | head -4; ok=0; }
    fi
    if [ $ok = 1 ]; then echo "[       OK ] $name"; else echo "[  FAILED  ] $name"; failed=1; fi
}

show frames_are_sent_as_they_are_written 1 0 "$work/storm.csv" - "$program" play "$work/storm.csv" --no-sound
# Without a route the interface alone says where multicast goes.
ip route del 224.0.0.0/4 dev lo
show multicast_leaves_by_the_interface_named 1 0 "$work/storm.csv" - "$program" play "$work/storm.csv" --no-sound --interface lo
show and_by_its_address 1 0 - - "$program" light --each --seconds 0.5 --interface 127.0.0.1
check without_route_and_interface_it_is_said 4 '' 'light network can.t be reached: Network is unreachable' "$program" play "$work/storm.csv" --no-sound --quiet
ip route add 224.0.0.0/4 dev lo
check no_interface_of_that_name 2 '' "no network interface is called 'eth9': choose from lo .127.0.0.1." "$program" play "$work/storm.csv" --no-sound --quiet --interface eth9
check an_interface_is_for_multicast 2 '' "the interface 'lo' is for multicast" "$program" light 1 --to 127.0.0.1 --interface lo
check interfaces_are_listed 0 '^lo +127.0.0.1$' '' "$program" light --interface list
show several_universes_by_the_rig 7,8,9 0 - - "$program" light --each --seconds 0.5 --rig "$work/wide.rig"
show ctrl_c_ends_dark 1 130 - INT "$program" play "$work/storm.csv" --no-sound --loop
show sigterm_ends_dark 1 143 - TERM "$program" play "$work/storm.csv" --no-sound --loop
show hangup_ends_dark 1 129 - HUP "$program" play "$work/storm.csv" --no-sound --loop
show a_crash_ends_dark 1 139 - SEGV "$program" play "$work/storm.csv" --no-sound --loop
# The keeper's turn: killed outright, and stopped (black while it lasts; then it is killed).
show a_kill_ends_dark 1 137 - KILL "$program" play "$work/storm.csv" --no-sound --loop
stop_and_kill() { # FILE: stops the player amid the show, waits until the receiver has seen the end of the stream
    local player=
    until_true "player=\$(pgrep -P $$ -f 'play .*--loop' | head -1) && [ -n \"\$player\" ]" || return
    until_true "[ \$(wc -l <'$1') -gt 5 ]"
    kill -STOP "$player"
    for i in $(seq 100); do awk '$4 == 64' "$1" | grep -q . && break; sleep 0.05; done
    kill -KILL "$player"
}
stop_and_kill "$work/a_stopped_player_is_dark.txt" &
show a_stopped_player_is_dark 1 137 - - "$program" play "$work/storm.csv" --no-sound --loop
show an_abort_ends_dark 1 134 - ABRT "$program" play "$work/storm.csv" --no-sound --loop

# With a sound card that keeps time but makes no sound (JACK's dummy driver); then it is lost amid the show.
if command -v jackd >/dev/null; then
    export JACK_DEFAULT_SERVER=thundercue-test-$$
    cp samples/mill-pond.flac "$work/storm.flac"
    jackd --no-realtime --name "$JACK_DEFAULT_SERVER" -d dummy -r 48000 -p 1024 >"$work/jack.log" 2>&1 &
    jack=$!
    until_true "'$program' play --sound-device list 2>/dev/null | grep -q JACK"
    show sound_and_light_by_the_card_s_clock 1 130 - INT "$program" play "$work/storm.csv"
    check sound_cards_are_listed 0 '^ +1 .* system \(JACK' '' "$program" play --sound-device list
    check no_sound_card_of_that_name 2 '' "no sound card is called 'hall': choose from 1 system" \
        "$program" play "$work/storm.csv" --quiet --to 127.0.0.1 --sound-device hall
    show a_sound_card_by_a_part_of_its_name 1 0 "$work/storm.csv" - "$program" play "$work/storm.csv" --sound-device SYST
    (for i in $(seq 200); do [ -s "$work/a_lost_card_ends_dark.txt" ] && [ "$(wc -l <"$work/a_lost_card_ends_dark.txt")" -gt 5 ] && break; sleep 0.05; done
     kill -9 $jack) 2>/dev/null &
    show a_lost_card_ends_dark 1 4 - - "$program" play "$work/storm.csv"
    rm -rf /dev/shm/jack*"$JACK_DEFAULT_SERVER"* /tmp/jack*"$JACK_DEFAULT_SERVER"*
else
    echo "[  SKIPPED ] sound_by_a_card: no jackd here; 'make setup-test' installs it"
fi

rm -f "$work/storm.flac"
check no_sound_beside_it 3 '' 'no sound of the same name is beside it: give --sound FILE or --no-sound' "$program" play "$work/storm.csv"
awk 'BEGIN { print "time_s,lamp"; for (i = 0; i < 80; i++) printf "%.3f,%d\n", i / 40, i % 4 < 2 && i < 78 ? 255 : 0 }' >"$work/strobe.csv"
printf '[circuit a]\nbreaker_amps = 15\n[channel 1]\nname = lamp\nkind = flood\nwatts = 5\ncircuit = a\n' >"$work/lamp.rig"
check too_many_flashes_are_not_played 1 '' 'flashes in the second before .*the limit is 3: it is not played' "$program" play "$work/strobe.csv" --no-sound --quiet --rig "$work/lamp.rig"
check another_rig_s_columns_are_not_played 2 '' '^thundercue: [^ ]*strobe.csv: its columns are not those of the built-in rig; give --rig FILE' "$program" play "$work/strobe.csv" --no-sound
check a_rig_that_the_columns_do_not_fit_plays_nothing 2 '' 'storm.csv: it was made with another rig than "lamp.rig": line 1, column 2: "trunk top" is no channel of the rig; give --rig FILE' \
    "$program" play "$work/storm.csv" --no-sound --quiet --to 127.0.0.1 --rig "$work/lamp.rig"
check ramps_are_not_played 2 '' '^thundercue: .*mill-pond.ramps.csv: this is a ramps file; play takes a .frames.csv' "$program" play "$work/mill-pond.ramps.csv" --no-sound
check what_is_played_is_said '0' '^levels sent in [0-9]+ packets .unchanged frames are not repeated.; ' '^playing storm.csv, 3.0 s, to 127.0.0.1, universe 1$' "$program" play "$work/storm.csv" --no-sound --to 127.0.0.1
ln -s "$PWD/samples/mill-pond.flac" "$work/mill-pond.flac"
check a_recording_s_own_timeline_is_told_of 124 '' 'note: mill-pond.flac is heard and cued anew; for the light that is in .*/mill-pond.frames.csv, play that$' \
    timeout -s INT 2 bash -c "exec '$program' play '$work/mill-pond.flac' --no-sound --to 127.0.0.1 >/dev/null"
rm "$work/mill-pond.flac"
check waiting_is_said_as_such 124 '' '^waiting for file:.*/pull to play storm.csv, 3.0 s, to 127.0.0.1, universe 1$' \
    timeout -s INT 2 "$program" play "$work/storm.csv" --no-sound --to 127.0.0.1 --trigger "file:$work/pull"
check no_such_host 2 '' "the light network's host 'nowhere.invalid'" "$program" play "$work/storm.csv" --no-sound --quiet --to nowhere.invalid
check one_start_at_a_time 2 '' 'give --at or --trigger, not both' "$program" play "$work/storm.csv" --at 19:30 --trigger key
check no_time_of_day 2 '' "'25:00' is not a time of day" "$program" play "$work/storm.csv" --at 25:00
check no_trigger_like_that 2 '' "'smoke' is not key, udp:PORT or file:PATH" "$program" play "$work/storm.csv" --no-sound --quiet --trigger smoke
check light_needs_channels 2 '' 'which channels' "$program" light
check light_knows_its_rig 2 '' "'99' is no channel of the rig" "$program" light 99
check light_goes_by_names_and_ranges 0 '^channel 2  trunk middle .*' '' bash -c "'$program' light 2-3 'flood left' --seconds 0.5 --to 127.0.0.1 2>/dev/null"
check all_that_were_named_light 0 '^2 3 13 $' '' bash -c "'$program' light 2-3 'Flood left' --seconds 0.5 --to 127.0.0.1 2>/dev/null | awk '{ printf \"%s \", \$2 }'"
check lowest_needs_keys 2 '' 'no terminal' "$program" light --find-lowest 3 --to 127.0.0.1

# What starts a show. A player that waits is dark; a pull lights it; pulls amid a show and after it don't count.
# waits NAME PULL PLAYER...: checks that, then ends it by Ctrl-C.
lit() { awk '$4 == 0 && $8 ~ /[1-9a-f]/ { n++ } END { print n + 0 }' "$work/$1.txt"; }
waits() {
    local name=$1 pull=$2 ok=1
    shift 2
    node $here/receive.mjs "$modules" 1 1500 "$work/$name.pcap" >"$work/$name.txt" &
    local receiver=$!
    until_true "grep -qs ready '$work/$name.txt'"
    "$@" >"$work/out" 2>"$work/err" </dev/null &
    local player=$!
    until_true "[ \$(wc -l <'$work/$name.txt') -gt 4 ]" || ok=0
    [ "$(lit "$name")" = 0 ] || { echo "lit before it was started"; ok=0; }
    eval "$pull"
    until_true "[ \$(lit $name) -gt 5 ]" || ok=0
    kill -INT $player 2>/dev/null
    wait $player
    [ $? = 130 ] || { cat "$work/err"; ok=0; }
    wait $receiver
    node $here/judge.mjs "$work/$name.txt" - 1 || ok=0
    if [ $ok = 1 ]; then echo "[       OK ] $name"; else echo "[  FAILED  ] $name"; failed=1; fi
}
waits a_datagram_starts_it 'echo now >/dev/udp/127.0.0.1/9123' "$program" play "$work/storm.csv" --no-sound --trigger udp:127.0.0.1:9123
waits a_file_starts_it 'touch "$work/pull"' "$program" play "$work/storm.csv" --no-sound --trigger "file:$work/pull"
in_ten_seconds() { exec "$program" "$@" --at "$(date -d '+10 seconds' +%H:%M:%S)"; } # from when it is started
waits the_time_of_day_starts_it : in_ten_seconds play "$work/storm.csv" --no-sound
if command -v script >/dev/null; then
    # in a terminal: the key, and Ctrl-C as a key
    typed() { (until [ -e "$work/press" ]; do sleep 0.05; done; printf x; sleep 2; printf '\003'; sleep 1) | script -qec "$*" /dev/null; }
    waits a_key_starts_it ': >"$work/press"' typed "'$program' play '$work/storm.csv' --no-sound --trigger key"
fi

# Half a second of storm: what is pulled amid it or in the second of lockout does not count, what is pulled later does.
awk -F, 'NR == 1 || ($1 >= 17.5 && $1 < 18) { print } END { printf "18.000"; for (c = 2; c <= NF; c++) printf ",0"; print "" }' \
    "$work/mill-pond.frames.csv" >"$work/short.csv"
pull_thrice() {
    local once
    echo now >/dev/udp/127.0.0.1/9123
    until_true "[ \$(lit $name) -gt 5 ]" || ok=0
    echo now >/dev/udp/127.0.0.1/9123
    sleep 2.5
    once=$(lit "$name")
    [ "$once" -lt 40 ] || { echo "$once lit packets: it counted amid the show"; ok=0; }
    echo now >/dev/udp/127.0.0.1/9123
    until_true "[ \$(lit $name) -gt $((once + 5)) ]" || ok=0
}
waits lockout_is_kept pull_thrice "$program" play "$work/short.csv" --no-sound --trigger udp:127.0.0.1:9123 --lockout 1
two_seconds_later() {
    until_true "[ \$(lit $name) -gt 5 ]" || ok=0
    awk '$1 == "ready" { next } !first { first = $1 } $8 ~ /[1-9a-f]/ { exit $1 - first < 1000000 }' "$work/$name.txt" || { echo "light came too soon"; ok=0; }
}
waits light_may_be_later_than_sound two_seconds_later "$program" play "$work/storm.csv" --no-sound --offset 2000
laps() { until_true "[ \$(lit $name) -gt 60 ]" || ok=0; } # three times as many as one has
waits it_repeats laps in_ten_seconds play "$work/short.csv" --no-sound --loop

# The keyboard is as it was, however the program ends. sh leaves a terminal as it finds it.
if command -v script >/dev/null; then
    for signal in INT TERM SEGV ABRT KILL; do
        rm -f "$work/typed"
        printf '%s\n' 'stty -g >"$1/before"; "$2" light 1 --to 127.0.0.1; for i in $(seq 50); do
            stty -g >"$1/after"; cmp -s "$1/before" "$1/after" && break; sleep 0.1; done' >"$work/hookup.sh"
        script -qfec "sh '$work/hookup.sh' '$work' '$program'" "$work/typed" </dev/null >/dev/null 2>&1 &
        for i in $(seq 200); do grep -qs 'channel 1' "$work/typed" && break; sleep 0.05; done
        pkill -"$signal" -f -x "$program light 1 --to 127.0.0.1" -o # the older of the two processes
        wait $!
        check "the_keyboard_is_given_back_after_$signal" 0 '' '' cmp "$work/before" "$work/after"
    done
fi

# Found levels go into a copy of the rig: the first lamp lights at 3 percent or a little above, the second is gone back
# to, the third is left as it was. All else in the file stays.
if command -v script >/dev/null; then
    mark=1 # only what came since the last key
    grow() {
        until_true "tail -c +$mark '$work/typed' 2>/dev/null | grep -q 'channel $1 .*: $2 %'"
        mark=$(($(wc -c <"$work/typed") + 1))
    }
    rm -f "$work/typed"
    (grow 1 3; printf x; grow 2 2; printf b; grow 1 2; printf x; grow 2 3; printf x; grow 3 1; printf q; sleep 1) |
        script -qfec "'$program' light 1 2 3 --find-lowest --to 127.0.0.1 --rig '$work/wide.rig' --save '$work/tuned.rig'" "$work/typed" >/dev/null
    level() { grep -o "channel $1: min_level = [0-9.]*" "$work/typed" | grep -o '[0-9.]*$'; }
    awk -v one="$(level 1)" -v two="$(level 2)" '{ print } /^\[channel 1\]/ { print "min_level = " one } /^\[channel 2\]/ { print "min_level = " two }' \
        "$work/wide.rig" | sort >"$work/expected.rig"
    sort "$work/tuned.rig" >"$work/got.rig"
    check found_levels_are_in_the_copy 0 '' '' cmp "$work/expected.rig" "$work/got.rig"
    check and_nowhere_else 0 '^1$' '' awk -v one="$(level 1)" -v two="$(level 2)" -v three="$(level 3)" \
        'BEGIN { print (one >= 1 && one < 30 && two >= 1 && two < 30 && three == "") }'
    check the_copy_is_a_rig 0 "channel" "" "$program" rig "$work/tuned.rig"
fi

# Ended by q at the first of three channels: none was found, and the copy is the rig as it was.
if command -v script >/dev/null; then
    rm -f "$work/typed"
    (for i in $(seq 400); do grep -q 'channel 1' "$work/typed" 2>/dev/null && break; sleep 0.05; done; printf q; sleep 1) |
        script -qfec "'$program' light 1 2 3 --find-lowest --to 127.0.0.1 --rig '$work/wide.rig' --save '$work/found.rig'" "$work/typed" >/dev/null
    check channels_not_tried_keep_their_lowest_level 0 '' '' cmp "$work/wide.rig" "$work/found.rig"
else
    echo "[  SKIPPED ] channels_not_tried_keep_their_lowest_level: no script(1) here"
fi
exit "$failed"
