#!/usr/bin/env bash
# What is edited by hand stays, unless --discard-edits says so; runs that write
# into one folder at once leave the files of one show; signals and containers.
set -u
cd "$(dirname "$0")/../.."
program=${THUNDERCUE:-$PWD/build/thundercue}
sample=$PWD/samples/mill-pond.flac
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
cd "$work" || exit 1
failed=0
verdict() { if [ "$2" = 0 ]; then echo "[       OK ] $1"; else echo "[  FAILED  ] $1"; cat err.txt 2>/dev/null; failed=1; fi; }

# ---- cue keeps an edit ----
"$program" cue "$sample" --out out --quiet --no-preview 2>err.txt
sed -i '2d' out/mill-pond.events.csv
cp out/mill-pond.events.csv edited.csv
"$program" cue "$sample" --out out --quiet --no-preview --force 2>err.txt; status=$?
grep -q 'was edited since thundercue wrote it; cue from it with --events' err.txt && [ $status = 4 ] && cmp -s edited.csv out/mill-pond.events.csv
verdict 'cue --force keeps edited events and says so' $?
"$program" cue "$sample" --out out --events out/mill-pond.events.csv --quiet --no-preview --force 2>err.txt && cmp -s edited.csv out/mill-pond.events.csv
verdict 'cue from edited events replaces the timelines alone' $?
rm out/.thundercue
"$program" cue "$sample" --out out --quiet --no-preview --force 2>err.txt; status=$?
[ $status = 4 ] && cmp -s edited.csv out/mill-pond.events.csv
verdict 'without the ledger nothing counts as its own' $?
"$program" cue "$sample" --out out --quiet --no-preview --discard-edits 2>err.txt && ! cmp -s edited.csv out/mill-pond.events.csv
verdict 'cue --discard-edits overwrites edited events' $?

mkdir one
cp "$sample" one/
sed -i '2d' out/mill-pond.events.csv
cp out/mill-pond.events.csv edited.csv
"$program" batch one --out out --quiet --no-preview 2>err.txt && cmp -s edited.csv out/mill-pond.events.csv && grep -q 'cued from the edited events' out/summary.csv
verdict 'batch takes edited events up where cue left the files' $?
"$program" batch one --out out --quiet --no-preview 2>err.txt; [ ! -s err.txt ]
verdict 'batch has nothing to tell where nothing changed' $?
head -c 1000 out/mill-pond.frames.csv >cut.csv
cp cut.csv out/mill-pond.frames.csv
"$program" batch one --out out --quiet --no-preview 2>err.txt && grep -q 'mill-pond.frames.csv: was edited since thundercue wrote it, and is left as it is' err.txt && cmp -s cut.csv out/mill-pond.frames.csv
verdict 'batch tells of a timeline that was edited or cut, and leaves it' $?
"$program" batch one --out out --quiet --no-preview --discard-edits 2>err.txt && ! cmp -s cut.csv out/mill-pond.frames.csv
verdict 'and makes it anew with --discard-edits' $?
rm -r one

# ---- one show in a folder, whoever writes at the same time ----
for seed in 1 2 3; do "$program" cue "$sample" --out "show$seed" --seed $seed --quiet --no-preview; done
trials=$([ "${TC_QUICK:-0}" = 1 ] && echo 5 || echo 20) mixed=0
for trial in $(seq "$trials"); do
    for seed in 1 2 3; do "$program" cue "$sample" --out one --seed $seed --quiet --no-preview --force 2>err$seed.txt & done
    wait
    same=0
    for seed in 1 2 3; do
        cmp -s one/mill-pond.events.csv show$seed/mill-pond.events.csv && cmp -s one/mill-pond.ramps.csv show$seed/mill-pond.ramps.csv &&
            cmp -s one/mill-pond.frames.csv show$seed/mill-pond.frames.csv && same=1
    done
    [ $same = 1 ] || mixed=$((mixed + 1))
done
[ $mixed = 0 ]
verdict "three runs at once into one folder, $trials times: never files of two shows" $?

# ---- signals ----
for signal in INT:130 TERM:143 HUP:129; do
    mkfifo "pipe$signal"
    "$program" cue - --out "stop$signal" --quiet <"pipe$signal" 2>err.txt &
    pid=$!
    exec 3>"pipe$signal"
    head -c 100000 "$sample" >&3
    sleep 0.2
    # a background job of a script ignores SIGINT unless told otherwise: the program sets its own handler
    kill -${signal%:*} $pid
    exec 3>&-
    wait $pid
    status=$?
    [ $status = "${signal#*:}" ] && [ -z "$(find "stop$signal" -type f -not -name .thundercue 2>/dev/null)" ]
    verdict "stopped by SIG${signal%:*}: status $status" $?
done

mkdir clips
for n in 1 2 3 4 5 6 7 8; do cp "$sample" clips/$n.flac; done
for signal in INT:130 TERM:143; do
    bash -c 'trap - INT; exec "$0" "$@"' "$program" batch clips --out "all$signal" --quiet 2>err.txt &
    pid=$!
    for n in $(seq 200); do [ -e "all$signal/summary.csv" ] && break; sleep 0.01; done
    kill -${signal%:*} $pid
    wait $pid
    status=$?
    [ $status = "${signal#*:}" ] && grep -q unfinished "all$signal/summary.csv" && [ -z "$(find "all$signal" -name '*.part')" ] &&
        "$program" batch clips --out "all$signal" --quiet 2>err.txt
    verdict "a batch stopped by SIG${signal%:*}: status $status, and goes on" $?
done

# ---- little memory, few open files ----
# The sanitizers' own bookkeeping doesn't fit into these.
rooms="20000 40000 80000" sizes="18000 19000 20000 22000 24000 25000 26000 28000 34000 42000"
case $program in */asan/* | */tsan/* | */ubsan/*) rooms= sizes= ;; esac
for room in $rooms; do
    (ulimit -v $room; "$program" batch clips --out "room$room" --jobs 2 --quiet >out.txt 2>err.txt); status=$?
    [ $status -le 5 ] && [ -z "$(find "room$room" -name '*.part' 2>/dev/null)" ]
    verdict "a batch in $room kB of memory ends in order (status $status)" $?
done
mkdir two; cp "$sample" two/a.flac; cp "$sample" two/b.flac
short=0 tried=0
for room in $sizes; do
    (ulimit -v $room; "$program" cue "$sample" --out one$room --quiet >out.txt 2>err.txt) || continue
    tried=$((tried + 1))
    (ulimit -v $room; "$program" batch two --out two$room --quiet >out.txt 2>err.txt) || { short=$((short + 1)); echo "in $room kB:"; cat err.txt; }
done
[ $short = 0 ]
verdict "where one clip has memory enough, a batch has ($tried sizes)" $?
(ulimit -n 8; "$program" batch two --out files8 --quiet >out.txt 2>err.txt); status=$?
[ $status = 1 ] && [ "$(grep -c 'ulimit -n' err.txt)" = 2 ]
verdict 'too few open files are told' $?
(ulimit -n 64; "$program" batch clips --out few --jobs 64 --quiet 2>err.txt)
verdict 'more workers than open files: all clips are done' $?

# ---- a file that grows beyond its limit is an error of the write ----
(ulimit -f 8; "$program" cue "$sample" --out limit --quiet 2>err.txt); status=$?
[ $status = 4 ] && [ -z "$(find limit -type f -not -name .thundercue)" ]
verdict 'a limit on file sizes leaves nothing hidden' $?
grep -q 'File too large' err.txt
verdict 'and is named' $?
named=0
for blocks in 12 20 30 60; do # wherever the write fails that goes beyond it
    (ulimit -f $blocks; "$program" cue "$sample" --out "limit$blocks" --quiet 2>err.txt) || grep -q 'File too large' err.txt || named=1
done
verdict 'wherever it is met' $named
(ulimit -f 40; "$program" night clips --length 0:00:40 --out evening --quiet 2>err.txt); status=$?
[ $status = 4 ] && grep -q 'evening.flac: can.t be written: File too large' err.txt && [ -z "$(find . -maxdepth 1 -name '.thundercue-*')" ]
verdict 'also by an evening' $?

# ---- an evening ----
"$program" night clips --length 0:00:40 --out eve --quiet 2>err.txt
sed -i '2d' eve.events.csv
cp eve.events.csv edited.csv
"$program" night clips --length 0:00:40 --out eve --quiet --force 2>err.txt; status=$?
[ $status = 4 ] && cmp -s edited.csv eve.events.csv && grep -q 'eve.events.csv: was edited .* events beside its recordings' err.txt
verdict "an evening's edited events stay, and it is said where to edit" $?

# ---- names ----
long=$(printf 'n%.0s' $(seq 251))
cp "$sample" "$long.fla"
"$program" cue "$long.fla" --out long --quiet 2>err.txt; status=$?
[ $status = 4 ] && grep -q 'File name too long' err.txt && [ -z "$(find long -type f -not -name .thundercue)" ]
verdict 'a name too long for its outputs is refused' $?
mkdir odd; mkfifo odd/mill-pond.frames.csv
timeout 20 "$program" cue "$sample" --out odd --quiet --force 2>err.txt; status=$?
[ $status = 4 ] && grep -q 'is not a file' err.txt
verdict 'a pipe in the place of an output is refused' $?

# ---- containers: every run has the process number 1 ----
if unshare --pid --fork true 2>/dev/null; then
    mkdir box
    for n in 0 1 2; do echo half >"box/.thundercue-1-$n.part"; done
    unshare --pid --fork "$program" cue "$sample" --out box --quiet --no-preview 2>err.txt && [ -z "$(find box -name '*.part')" ]
    verdict 'in a container hidden files of dead runs are swept up' $?
else
    echo 'containers: no process namespace may be made here: skipped'
fi
exit $failed
