#!/usr/bin/env bash
# Runs every test program and script of a build, and ends in a line that counts
# them: tests/run.sh build/plain. Programs and scripts run side by side.
set -u
out=$1
export THUNDERCUE=$PWD/$out/thundercue
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

count() { # name, exit status, output file, file of sums
    local ok ko sk tests
    # cmocka lists failures and skips once more after its last line of "="
    tests=$(sed '/^\[==========\].* run\.$/q' "$3")
    ok=$(grep -c '^\[       OK \]' <<<"$tests")
    ko=$(grep -c '^\[  FAILED  \] [^0-9]' <<<"$tests")
    sk=$(grep -c '^\[  SKIPPED \] [^0-9]' <<<"$tests")
    grep -h 'skipped$' <<<"$tests" | grep -v '^\[' # says why
    # a program that died, or failed without a failed test to show, is one failure
    if [ "$2" != 0 ] && [ "$ko" = 0 ]; then ko=1; fi
    if [ "$2" != 0 ]; then cat "$3"; fi
    printf '%-28s %4d passed %3d failed %3d skipped\n' "$1" "$ok" "$ko" "$sk"
    echo "$ok $ko $sk" >>"$4"
}

programs() {
    for test in "$out"/test_*; do
        case $test in *.d | *.o) continue ;; esac
        [ -x "$test" ] || continue
        "$test" >"$work/program" 2>&1
        count "${test##*/}" $? "$work/program" "$work/sums-programs"
    done
}

scripts() {
    for script in tests/app/*.sh tests/page/run.sh; do
        [ -e "$script" ] || continue
        bash "$script" "$out" >"$work/script" 2>&1
        count "${script#tests/}" $? "$work/script" "$work/sums-scripts"
    done
}

: >"$work/sums-programs" >"$work/sums-scripts"
scripts >"$work/scripts" 2>&1 &
programs
wait
cat "$work/scripts"
awk '{ passed += $1; failed += $2; skipped += $3 }
    END { printf "%d passed, %d failed, %d skipped\n", passed, failed, skipped; exit failed > 0 || passed == 0 }' "$work"/sums-*
