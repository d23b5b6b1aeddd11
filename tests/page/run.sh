#!/usr/bin/env bash
# The page tests, with what is there: needs node, a Chromium and playwright-core (npm ci in build/page, which
# `make setup-test` does). Only for the plain build: what runs in the browser is the same in all.
set -u
out=${1:-build/plain}
program=${THUNDERCUE:-$PWD/$out/thundercue}
skip() {
    echo "[  SKIPPED ] page tests: $1"
    exit 0
}
[ "$out" = build/plain ] || skip "they run with the plain build"
command -v node >/dev/null || skip "no node here; 'make setup-test' installs it"
[ -d build/page/node_modules/playwright-core ] || skip "no playwright-core here; 'make setup-test' installs it"
[ -e build/wasm/core.wasm ] || skip "pages are for looking only here; 'make setup-wasm' installs what else they take"
make --silent --no-print-directory build/synth build/clothes page >/dev/null && node tests/page/test_core.mjs "$program" build/wasm/core.wasm build/synth build/page
core=$?
node tests/page/test_rig_file.mjs build/wasm/core.wasm || core=1
CHROMIUM=${CHROMIUM:-$(command -v chromium || command -v chromium-browser)} || skip "no chromium here; 'make setup-test' installs it"
export CHROMIUM
for suite in page bench carry open rig; do
    node tests/page/test_$suite.mjs "$program" build/page || core=1
done
node tests/page/test_sounds.mjs "$program" build/page build/clothes chromium "$CHROMIUM" || core=1
if FIREFOX=${FIREFOX:-$(command -v firefox-esr || command -v firefox)}; then
    node tests/page/test_firefox.mjs "$program" build/page "$FIREFOX" || core=1
    node tests/page/test_sounds.mjs "$program" build/page build/clothes firefox "$FIREFOX" || core=1
else
    echo "[  SKIPPED ] page tests in Firefox: no Firefox here; 'make setup-test' installs it"
fi
exit $core
