#!/usr/bin/env bash
# What `make install` puts below a prefix is enough to build with the library:
# the examples of the header, as C and as C++, against the shared and the static
# library, found through pkg-config, and run on the sample storm.
set -u
case $THUNDERCUE in
*/plain/*) ;;
*) echo "[  SKIPPED ] what is installed: with the plain build only, skipped"; exit 0 ;;
esac
unset MAKEFLAGS MAKEOVERRIDES # not those of the make that runs the tests
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
failed=0
version=$(sed -n 's/^#define TC_VERSION "\(.*\)"/\1/p' include/thundercue.h)
report() { # exit status, name
    if [ "$1" = 0 ]; then echo "[       OK ] $2"; else cat "$folder/log"; echo "[  FAILED  ] $2"; failed=1; fi
}
make --no-print-directory install PREFIX="$folder/usr" >"$folder/log" 2>&1
report $? "make install puts everything below PREFIX"

# Everything after "For example, ...:" in a comment that is indented like code.
examples() { awk '/^[\/ ]\* For example, .*:$/ { on = 1; next } on && /^ \*     / { print substr($0, 8); next } on && /^ \*$/ { print ""; next } { on = 0 }' "$1"; }
{
    printf '#include <%s>\n' sndfile.h stdio.h stdlib.h string.h thundercue.h
    examples "$folder/usr/include/thundercue.h"
    cat <<'C'

static SNDFILE *in;
static unsigned rows, lit, trunk;
static size_t read_some(float *to, size_t frames) { return (size_t)sf_readf_float(in, to, (sf_count_t)frames); }
static void count_light(const uint16_t *levels, size_t count)
{
    rows++;
    for (size_t c = 0; c < count; c++) lit += levels[c] > 0;
    trunk += levels[0] > 0;
}

/* What the library that runs says of itself, and what each example makes of the sample. */
int main(int argc, char **argv)
{
    if (argc != 3 || strcmp(tc_version(), TC_VERSION)) return 1;
    SF_INFO info;
    memset(&info, 0, sizeof info);
    in = sf_open(argv[1], SFM_READ, &info);
    if (!in) return 2;
    struct tc_analysis heard;
    if (hear(read_some, info.samplerate, info.channels, &heard) != TC_OK || heard.event_count < 5) return 3;
    float *samples = (float *)calloc((size_t)(info.frames * info.channels), sizeof *samples);
    sf_seek(in, 0, SEEK_SET);
    if (!samples || sf_readf_float(in, samples, info.frames) != info.frames) return 4;
    if (make_show(samples, (size_t)info.frames, info.samplerate, info.channels, count_light) != TC_OK) return 5;
    printf("%zu events, %u rows, %u levels above 0, trunk lit in %u\n", heard.event_count, rows, lit, trunk);
    if (rows != (unsigned)(heard.length_ms * 40 + 999) / 1000 + 1 || !lit || !trunk) return 6;

    struct tc_settings s = tc_settings_default();
    struct tc_rig rig;
    struct tc_timeline plan;
    struct tc_sink sink;
    char path[400];
    if (tc_settings_read("seed = 5\nlevels = 8bit\n", 23, "here", &s, NULL) != TC_OK || s.seed != 5) return 7;
    if (tc_rig_builtin(&rig) != TC_OK || tc_cue(&heard, &rig, &s, NULL, &plan, NULL) != TC_OK) return 8;
    snprintf(path, sizeof path, "%s/mill-pond.frames.csv", argv[2]);
    if (save(path, &plan, &rig, &s) != TC_OK) return 9;
    snprintf(path, sizeof path, "%s/mill-pond.ramps.csv", argv[2]);
    sink.write = put;
    if (!(sink.to = fopen(path, "wb")) || tc_ramps_write(&plan, &rig, &s, NULL, sink, NULL) != TC_OK || fclose((FILE *)sink.to)) return 10;
    snprintf(path, sizeof path, "%s/mill-pond.events.csv", argv[2]);
    if (!(sink.to = fopen(path, "wb")) || tc_events_write(&heard, sink, NULL) != TC_OK || fclose((FILE *)sink.to)) return 11;
    tc_timeline_clear(&plan);

    static char text[20000];
    struct tc_problem why;
    size_t size = (sink.to = fopen(path, "rb")) ? fread(text, 1, sizeof text, (FILE *)sink.to) : 0;
    fclose((FILE *)sink.to);
    if (cue_events(text, size, &rig, &plan, &why) != TC_OK) return 12;
    snprintf(path, sizeof path, "%s/alone.csv", argv[2]);
    s = tc_settings_default();
    if (save(path, &plan, &rig, &s) != TC_OK) return 13;
    tc_timeline_clear(&plan);
    if (cue_events("kind,start_s\ncrack,1.5\ncrack,x\n", 31, &rig, &plan, &why) != TC_ERR_FORM || !strstr(why.text, ":3:")) return 14;
    tc_rig_clear(&rig);
    tc_analysis_clear(&heard);
    free(samples);
    sf_close(in);
    return 0;
}
C
} >"$folder/example.c"
cp "$folder/example.c" "$folder/example.cpp"
# An example that is not called is one that the compiler finds unused.
export PKG_CONFIG_PATH=$folder/usr/lib/pkgconfig LD_LIBRARY_PATH=$folder/usr/lib
# C++ warns of { 0 }, which it also knows as an empty struct.
for language in "C:cc -std=c17:c" "C++:c++ -std=c++11 -Wno-missing-field-initializers:cpp"; do
    IFS=: read -r name compiler ending <<<"$language"
    for kind in shared static; do
        if [ $kind = shared ]; then library=$(pkg-config --libs thundercue)
        else library=$(pkg-config --static --libs thundercue | sed 's/-lthundercue/-l:libthundercue.a/'); fi
        program="$folder/example-$ending-$kind"
        # shellcheck disable=SC2046,SC2086
        $compiler -Wall -Wextra -Wpedantic -Werror -o "$program" "$folder/example.$ending" \
            $(pkg-config --cflags thundercue) $library $(pkg-config --cflags --libs sndfile) >"$folder/log" 2>&1 &&
            mkdir -p "$folder/files-$ending-$kind" &&
            "$program" samples/mill-pond.flac "$folder/files-$ending-$kind" >"$folder/said-$ending-$kind" 2>"$folder/log" &&
            cmp "$folder/said-c-shared" "$folder/said-$ending-$kind" >>"$folder/log" 2>&1
        report $? "the header's examples build and run as $name with the $kind library"
        "$folder/usr/bin/thundercue" cue samples/mill-pond.flac --out "$folder/show" --seed 5 --levels 8bit --no-preview \
            --force >"$folder/log" 2>&1 &&
            "$folder/usr/bin/thundercue" cue --events "$folder/show/mill-pond.events.csv" --out "$folder/alone" --no-preview \
                --force >>"$folder/log" 2>&1 && cp "$folder"/alone/*.frames.csv "$folder/show/alone.csv" && diff -r -x .thundercue "$folder/show" "$folder/files-$ending-$kind" >>"$folder/log" 2>&1
        report $? "and write the program's files to the byte"
        ldd "$program" >"$folder/log" 2>&1 && case $kind in
            shared) grep -q "libthundercue.so.${version%%.*} => $folder/usr/lib" "$folder/log" ;;
            static) ! grep -q libthundercue "$folder/log" ;;
        esac
        report $? "and it is the $kind library that runs"
    done
done
"$folder/usr/bin/thundercue" --version >"$folder/log" 2>&1
report $? "the installed program runs"
"$folder/usr/bin/thundercue" --man >"$folder/man" && grep -q '^.BR .*sensitivity' "$folder/man" && ! grep -q '^\.[^A-Z\\]' "$folder/man"
report $? "the man page has the settings and no stray requests"
missing=$(for name in STEM.events.csv NAME.night.csv summary.csv NAME.rig NAME.settings NAME.labels.csv .thundercue .thundercue.heard; do
    sed -n '/^.SH FILES/,/^.SH EXIT/p' "$folder/man" | grep -qxF ".I $name" || echo "$name"
done)
[ -z "$missing" ] || echo "$missing"
[ -z "$missing" ]
report $? "the man page knows every kind of file"
cat >"$folder/complete" <<'C'
source "$1"
COMP_WORDS=(thundercue cue --sens) COMP_CWORD=2; _thundercue; echo "${COMPREPLY[*]}"
COMP_WORDS=(thundercue ba) COMP_CWORD=1; _thundercue; echo "${COMPREPLY[*]}"
C
[ "$(bash "$folder/complete" "$folder/usr/share/bash-completion/completions/thundercue")" = $'--sensitivity\nbatch' ]
report $? "the shell completes commands and options"
unset PKG_CONFIG_PATH LD_LIBRARY_PATH
# A package is put together elsewhere, and all of it can be taken away again.
make --no-print-directory install DESTDIR="$folder/package" PREFIX=/opt/storm LIBDIR=/opt/storm/lib64 >"$folder/log" 2>&1
(cd "$folder/package" && find . ! -type d | sort) >"$folder/files"
cat >"$folder/want" <<END
./opt/storm/bin/thundercue
./opt/storm/include/thundercue.h
./opt/storm/lib64/libthundercue.a
./opt/storm/lib64/libthundercue.so
./opt/storm/lib64/libthundercue.so.${version%%.*}
./opt/storm/lib64/libthundercue.so.$version
./opt/storm/lib64/pkgconfig/thundercue.pc
./opt/storm/share/bash-completion/completions/thundercue
./opt/storm/share/man/man1/thundercue.1
./opt/storm/share/thundercue/thundercue.service
END
diff "$folder/want" "$folder/files" >>"$folder/log" 2>&1 && ! grep -q "$folder" "$folder/package/opt/storm/lib64/pkgconfig/thundercue.pc"
report $? "DESTDIR and LIBDIR say where files go"
make --no-print-directory uninstall DESTDIR="$folder/package" PREFIX=/opt/storm LIBDIR=/opt/storm/lib64 >"$folder/log" 2>&1
[ -z "$(find "$folder/package" ! -type d)" ]
report $? "make uninstall takes all of it away"
exit $failed
