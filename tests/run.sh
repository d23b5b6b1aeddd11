#!/usr/bin/env bash
# Runs every test program and script of a build, and ends in a line that counts
# them: tests/run.sh build/plain
set -u
out=$1
passed=0 failed=0 skipped=0
export THUNDERCUE=$PWD/$out/thundercue

count() { # name, exit status, output file
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
    passed=$((passed + ok)) failed=$((failed + ko)) skipped=$((skipped + sk))
}

log=$(mktemp)
trap 'rm -f "$log"' EXIT
for test in "$out"/test_*; do
    case $test in *.d | *.o) continue ;; esac
    [ -x "$test" ] || continue
    "$test" >"$log" 2>&1
    count "${test##*/}" $? "$log"
done
for script in tests/app/*.sh tests/page/run.sh; do
    [ -e "$script" ] || continue
    bash "$script" "$out" >"$log" 2>&1
    count "${script#tests/}" $? "$log"
done
echo "$passed passed, $failed failed, $skipped skipped"
[ "$failed" = 0 ]
