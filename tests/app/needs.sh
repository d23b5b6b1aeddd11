#!/usr/bin/env bash
# Where something to build from is missing, make names it before the compiler
# stumbles over it, and says how to get it: also without root, sudo or apt-get.
set -u
cd "$(dirname "$0")/../.."
. tests/app/check.bash
top=$PWD

# A machine on which pkg-config knows no library, and whose user has neither sudo nor apt-get.
mkdir "$work/bin"
printf '#!/bin/sh\necho 1000\n' >"$work/bin/id"
chmod +x "$work/bin/id"
bare() { (cd "$top" && PATH=$work/bin "$(command -v make)" --no-print-directory VARIANT=bare OUT="$work/tree" PKG_CONFIG=/bin/false SHELL="$BASH" "$@"); }
mkdir "$work/tree"

names='kissfft-float sndfile .*samplerate .*libxxhash .*libebur128 .*jansson .*libutf8proc'
check building_names_the_libraries 2 '' "Missing, by the names of pkg-config: $names" bare "$work/tree/flags"
check building_says_what_debian_calls_them 2 '' 'apt-get install libkissfft-dev libsndfile1-dev .*libutf8proc-dev' bare "$work/tree/flags"
check demo_without_root_and_sudo 2 '' 'Missing: .*kissfft-float' bare demo
check demo_says_what_to_ask_for 2 '' 'for want of apt-get, or of root or sudo. .*apt-get install .*libkissfft-dev' bare demo
exit "$failed"
