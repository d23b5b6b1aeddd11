#!/usr/bin/env bash
# What the library shows of itself and what it asks of the system, by its
# symbols: the public header's functions and nothing else can be seen in it,
# and it reaches no disk, clock, thread, terminal or locale.
set -u
case $THUNDERCUE in
*/plain/*) ;;
*) echo "symbols of the library: looked at in the plain build only, skipped"; echo "[  SKIPPED ] symbols"; exit 0 ;;
esac
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
built=${THUNDERCUE%/*}
static=$built/libthundercue.a
shared=$(echo "$built"/libthundercue.so.*)
failed=0
report() { # exit status, name
    if [ "$1" = 0 ]; then echo "[       OK ] $2"; else cat "$folder/log"; echo "[  FAILED  ] $2"; failed=1; fi
}

# Every function that the header declares, by the compiler's own reading of it.
echo '#include <thundercue.h>' | cc -std=c17 -Iinclude -E -P - | tr '\n' ' ' | tr ';{}' '\n\n\n' |
    grep -v 'static inline' | grep -o '\btc_[a-z0-9_]* *([^*]' | sed 's/ *(.*//' | sort -u >"$folder/declared"
nm --extern-only --defined-only --format=posix "$static" | awk 'NF > 1 { print $1 }' | sort >"$folder/static"
nm --dynamic --defined-only --format=posix "$shared" | awk '{ print $1 }' | sort >"$folder/shared"
[ "$(wc -l <"$folder/declared")" -gt 15 ] && diff "$folder/declared" "$folder/static" >"$folder/log" 2>&1
report $? "the static library shows what the header declares, and nothing else"
diff "$folder/declared" "$folder/shared" >"$folder/log" 2>&1
report $? "so does the shared library"

# What a pure library needs of libc: memory, strings, text into memory, sorting, mathematics.
cat >"$folder/allowed" <<'END'
calloc realloc free
memchr memcmp memcpy memmove memset strchr strcmp strcspn strlen strncmp strpbrk strrchr strspn strstr
snprintf vsnprintf qsort bsearch __assert_fail __errno_location
cbrt ceil cos exp floor floorf fmax fmaxf fmin fminf fmod hypot log log10 log10f log2 log2f llround lrint lround pow powf round
sin sincos sqrt sqrtf ldexp
END
nm --dynamic --undefined-only --format=posix "$shared" | awk '$2 == "U" { sub(/@.*/, "", $1); print $1 }' | sort -u |
    grep -vxF -f <(tr ' ' '\n' <"$folder/allowed") | grep -v '^kiss_fft\|^utf8proc_' >"$folder/log"
[ ! -s "$folder/log" ]
report $? "the library asks nothing of the system but memory, strings and mathematics"

# An embedder whose own functions are called like all of the library's inner ones.
nm --extern-only --defined-only --format=posix "$built/lib.a" | awk 'NF > 1 && $1 !~ /^tc_/ { print $1 }' | sort -u >"$folder/inner"
{
    echo '#include <stdlib.h>'
    echo '#include <thundercue.h>'
    sed 's/.*/void &(void); void &(void) { abort(); }/' "$folder/inner"
    echo 'void over(void); void over(void) { abort(); }'
    cat <<'C'
int main(void)
{
    struct tc_event crack = { .kind = TC_CRACK, .start_ms = 500, .end_ms = 500, .peak_ms = 500, .strength = 1, .sharpness = 1 };
    struct tc_analysis a = { .length_ms = 3000, .sample_rate = 44100, .channels = 1, .events = &crack, .event_count = 1 };
    static float silence[44100];
    struct tc_analysis heard;
    struct tc_settings s = tc_settings_default();
    struct tc_rig rig;
    struct tc_timeline t;
    struct tc_player *player;
    uint16_t levels[TC_MAX_CHANNELS];
    unsigned lit = 0;
    if (tc_settings_set(&s, "seed", "3", NULL) || tc_listen(silence, 44100, 44100, 1, &s, NULL, &heard)) return 1;
    if (tc_rig_builtin(&rig) || tc_cue(&a, &rig, &s, NULL, &t, NULL) || tc_player_create(&player, &t, &rig, &s, NULL)) return 2;
    while (tc_player_step(player, levels)) for (int i = 0; i < 16; i++) lit += levels[i] > 0;
    return lit ? 0 : 3;
}
C
} >"$folder/clash.c"
[ "$(wc -l <"$folder/inner")" -gt 80 ] &&
    cc -std=c17 -Iinclude -o "$folder/clash" "$folder/clash.c" "$static" $(pkg-config --libs kissfft-float) -lm >"$folder/log" 2>&1 &&
    "$folder/clash" >>"$folder/log" 2>&1
report $? "an embedder's own functions may be called like the library's inner ones"

# Inner names tell their module, so that none is as short as `over`.
nm --extern-only --defined-only --format=posix "$built/lib.a" | awk 'NF > 1 && $1 !~ /_/ { print $1 }' >"$folder/log"
[ ! -s "$folder/log" ]
report $? "no inner name is a lone word"
exit $failed
