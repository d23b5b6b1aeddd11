# For the scripts beside it, which source it: a folder of their own in $work,
# the program in $program, and a check of one command. They end with
# `exit $failed`.
program=${THUNDERCUE:-build/thundercue}
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
failed=0

# check NAME STATUS OUT ERR COMMAND...: the exit status, and a regular
# expression each that standard output and standard error must contain ('' =
# must be empty).
check() {
    local name=$1 status=$2 out=$3 err=$4 got ok=1
    shift 4
    "$@" >"$work/out" 2>"$work/err" </dev/null
    got=$?
    [ "$got" = "$status" ] || { echo "exit status $got, expected $status"; ok=0; }
    if [ -z "$out" ]; then [ ! -s "$work/out" ] || ok=0; else grep -Eq -- "$out" "$work/out" || ok=0; fi
    if [ -z "$err" ]; then [ ! -s "$work/err" ] || ok=0; else grep -Eq -- "$err" "$work/err" || ok=0; fi
    if [ "$ok" = 1 ]; then
        echo "[       OK ] $name"
    else
        echo "standard output:"; head -5 "$work/out"
        echo "standard error:"; head -5 "$work/err"
        echo "[  FAILED  ] $name"
        failed=1
    fi
}
