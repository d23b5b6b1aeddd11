#!/usr/bin/env bash
# What `make install` puts below a prefix is enough to build with the library:
# the example at the top of the header, compiled through pkg-config.
set -u
case $THUNDERCUE in
*/plain/*) ;;
*) echo "[  SKIPPED ] what is installed: with the plain build only, skipped"; exit 0 ;;
esac
unset MAKEFLAGS MAKEOVERRIDES # not those of the make that runs the tests
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
failed=0
report() { # exit status, name
    if [ "$1" = 0 ]; then echo "[       OK ] $2"; else cat "$folder/log"; echo "[  FAILED  ] $2"; failed=1; fi
}
make --no-print-directory install PREFIX="$folder/usr" >"$folder/log" 2>&1
report $? "make install puts everything below PREFIX"

cat >"$folder/example.c" <<'C'
#include <sndfile.h>
#include <stdio.h>
#include <thundercue.h>

static enum tc_status hear(const char *path, const struct tc_settings *s, struct tc_analysis *heard)
{
    SF_INFO info = { 0 };
    SNDFILE *in = sf_open(path, SFM_READ, &info);
    struct tc_listener *ear = NULL;
    static float block[4096 * 8];
    if (!in || info.channels > 8) return TC_ERR_READ;
    enum tc_status status = tc_listener_create(&ear, s, info.samplerate, info.channels);
    for (sf_count_t n; status == TC_OK && (n = sf_readf_float(in, block, 4096)) > 0;)
        status = tc_listener_push(ear, block, (size_t)n);
    if (status == TC_OK) status = tc_listener_finish(ear, heard);
    tc_listener_destroy(ear);
    sf_close(in);
    return status;
}

int main(int argc, char **argv)
{
    struct tc_settings s = tc_settings_default();
    struct tc_analysis heard = { 0 };
    struct tc_timeline t = { 0 };
    struct tc_rig rig;
    struct tc_player *player;
    unsigned short levels[TC_MAX_CHANNELS];
    unsigned frames = 0, lit = 0;
    if (argc < 2 || hear(argv[1], &s, &heard) != TC_OK) return 1;
    if (tc_rig_builtin(&rig) != TC_OK || tc_cue(&heard, &rig, &s, NULL, &t) != TC_OK) return 2;
    if (tc_player_create(&player, &t, &rig, &s) != TC_OK) return 3;
    for (; tc_player_step(player, levels); frames++) lit += levels[0] > 0;
    printf("%u frames, trunk lit in %u\n", frames, lit);
    tc_player_destroy(player);
    tc_timeline_clear(&t);
    tc_rig_clear(&rig);
    tc_analysis_clear(&heard);
    return frames == t.frames && !lit;
}
C
PKG_CONFIG_PATH="$folder/usr/lib/pkgconfig" bash -c "cc -std=c17 -Wall -Werror -o $folder/example $folder/example.c \
    \$(pkg-config --cflags --libs thundercue)" >"$folder/log" 2>&1
report $? "a program builds with the installed header and library"
"$folder/example" samples/mill-pond.flac >"$folder/log" 2>&1
report $? "and cues a recording with it"
"$folder/usr/bin/thundercue" --version >"$folder/log" 2>&1
report $? "the installed program runs"
"$folder/usr/bin/thundercue" --man >"$folder/man" && grep -q '^.BR .*sensitivity' "$folder/man" && ! grep -q '^\.[^A-Z\\]' "$folder/man"
report $? "the man page has the settings and no stray requests"
cat >"$folder/complete" <<'C'
source "$1"
COMP_WORDS=(thundercue cue --sens) COMP_CWORD=2; _thundercue; echo "${COMPREPLY[*]}"
COMP_WORDS=(thundercue ba) COMP_CWORD=1; _thundercue; echo "${COMPREPLY[*]}"
C
[ "$(bash "$folder/complete" "$folder/usr/share/bash-completion/completions/thundercue")" = $'--sensitivity\nbatch' ]
report $? "the shell completes commands and options"
exit $failed
