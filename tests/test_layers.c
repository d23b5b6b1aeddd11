/* The house rules that a reader could break without noticing: arrows between
 * rooms point one way only; libraries stay behind their fences; every header
 * compiles alone; no state at file scope. */
#include "check.h"

#include <ftw.h>
#include <sys/stat.h>

enum { FILES_MOST = 400, NAME_MOST = 64 };

/* Sources by their path below src/, sorted. */
static char files[FILES_MOST][NAME_MOST];
static int file_count;

static int take(const char *path, const struct stat *st, int kind, struct FTW *where)
{
    (void)st, (void)where;
    size_t n = strlen(path);
    if (kind != FTW_F || n < 3 || path[n - 2] != '.' || !strchr("ch", path[n - 1])) return 0;
    assert_true(file_count < FILES_MOST && n - 4 < NAME_MOST);
    snprintf(files[file_count++], NAME_MOST, "%s", path + 4);
    return 0;
}

static int by_name(const void *a, const void *b)
{
    return strcmp(a, b);
}

static int set_up(void **state)
{
    (void)state;
    nftw("src", take, 16, FTW_PHYS); /* not run from the checkout: none, and the tests skip */
    qsort(files, (size_t)file_count, sizeof *files, by_name);
    return 0;
}

static void skip_elsewhere(void)
{
    if (file_count > 0) return;
    print_message("skipped: not run from the checkout's top folder\n");
    skip();
}

/* The folder of a source, "lib/cueing" or "app/night". */
static void room_of(const char *file, char *to)
{
    const char *slash = strrchr(file, '/');
    snprintf(to, NAME_MOST, "%.*s", slash ? (int)(slash - file) : 0, file);
}

/* Calls `see` for every line of every source file and adds up what it returns. */
static int look_through(int (*see)(const char *file, const char *line))
{
    int wrong = 0;
    for (int i = 0; i < file_count; i++) {
        char path[300], line[4096];
        snprintf(path, sizeof path, "src/%s", files[i]);
        FILE *in = fopen(path, "r");
        assert_non_null(in);
        while (fgets(line, sizeof line, in)) wrong += see(files[i], line);
        fclose(in);
    }
    return wrong;
}

static bool included(const char *line, char *name)
{
    return sscanf(line, " # include \"%63[^\"]", name) == 1 || sscanf(line, " # include <%63[^>]", name) == 1;
}

/* ---- Arrows ---- */

#define LIB " lib/words lib/hearing lib/rig lib/marks lib/cueing lib/light lib/writing lib/show "
#define IO  "io/process io/sound io/files io/network "

/* Which rooms may a room include? Itself, and those named here. */
static const struct {
    const char *room, *knows; /* rooms separated by spaces, each with one before and after */
} rooms[] = {
    { "lib/words",   " " },
    { "lib/hearing", " lib/words " },
    { "lib/rig",     " lib/words " },
    { "lib/marks",   " lib/words " },
    { "lib/cueing",  " lib/words lib/rig " },
    { "lib/light",   " lib/words lib/rig " },
    { "lib/writing", " lib/words lib/rig " },
    { "lib/show",    " lib/words lib/rig lib/light lib/writing " },
    { "page",         LIB },
    { "io/process",   LIB },
    { "io/sound",     LIB "io/process " },
    { "io/files",     LIB "io/process io/sound " },
    { "io/network",   LIB "io/process io/files " },
    { "app/report",   LIB IO },
    { "app/sheet",    LIB IO "app/report " },
    { "app/clip",     LIB IO "page app/report " },
    { "app/tune",     LIB IO "app/report app/clip " },
    { "app/batch",    LIB IO "page app/report app/clip " },
    { "app/night",    LIB IO "page app/report app/clip " },
    { "app/live",     LIB IO "page app/report app/clip app/night " },
    { "app/commands", LIB IO "page app/report app/sheet app/clip app/tune app/batch app/night app/live " },
    { "app",          LIB IO "app/report app/commands " },
};

/* NULL if there is no such room. */
static const char *known_to(const char *room)
{
    for (size_t i = 0; i < COUNT(rooms); i++)
        if (!strcmp(rooms[i].room, room)) return rooms[i].knows;
    return NULL;
}

static int see_arrow(const char *file, const char *line)
{
    char name[NAME_MOST], from[NAME_MOST], to[NAME_MOST + 4], word[NAME_MOST + 8];
    if (sscanf(line, " # include \"%63[^\"]", name) != 1 || !strcmp(name, "thundercue.h")) return 0;
    room_of(file, from);
    room_of(name, word);
    bool program = !strncmp(word, "io/", 3) || !strncmp(word, "app/", 4) || !strcmp(word, "page");
    snprintf(to, sizeof to, "%s%s", program ? "" : "lib/", word);
    if (!strcmp(from, to)) return 0;
    snprintf(word, sizeof word, " %s ", to);
    const char *knows = known_to(from);
    if (knows && strstr(knows, word)) return 0;
    print_message("src/%s includes %s: %s must not know %s\n", file, name, from, to);
    return 1;
}

static void arrows_point_one_way_only(void **state)
{
    (void)state;
    skip_elsewhere();
    assert_int_equal(look_through(see_arrow), 0);
}

static void every_source_has_its_room(void **state)
{
    (void)state;
    skip_elsewhere();
    int homeless = 0;
    for (int i = 0; i < file_count; i++) {
        char room[NAME_MOST];
        room_of(files[i], room);
        if (known_to(room)) continue;
        print_message("src/%s is in no room that this test knows\n", files[i]);
        homeless++;
    }
    assert_int_equal(homeless, 0);
}

/* Two files that include one another, through however many others, are one
 * file in two halves. `reach[i][j]`: file i includes file j. Headers and their
 * sources count as one. */
static int module_at(const char *file)
{
    for (int i = 0; i < file_count; i++)
        if (!strncmp(files[i], file, strcspn(file, ".")) && files[i][strcspn(file, ".")] == '.') return i;
    return -1;
}

static bool reach[FILES_MOST][FILES_MOST];

static int see_reach(const char *file, const char *line)
{
    char name[NAME_MOST], path[NAME_MOST + 4];
    if (sscanf(line, " # include \"%63[^\"]", name) != 1) return 0;
    snprintf(path, sizeof path, "%s", name);
    int from = module_at(file), to = module_at(path);
    if (to < 0) {
        snprintf(path, sizeof path, "lib/%s", name);
        to = module_at(path);
    }
    if (from >= 0 && to >= 0 && from != to) reach[from][to] = true;
    return 0;
}

static void no_two_files_include_each_other(void **state)
{
    (void)state;
    skip_elsewhere();
    look_through(see_reach);
    for (int k = 0; k < file_count; k++)
        for (int i = 0; i < file_count; i++)
            for (int j = 0; reach[i][k] && j < file_count; j++) reach[i][j] |= reach[k][j];
    int circles = 0;
    for (int i = 0; i < file_count; i++) {
        if (!reach[i][i]) continue;
        print_message("src/%s is part of a circle of includes\n", files[i]);
        circles++;
    }
    assert_int_equal(circles, 0);
}

/* ---- Fences ---- */

static const struct {
    const char *header;      /* its beginning */
    const char *where;       /* files separated by spaces, each with one before and after */
} fences[] = {
    { "sndfile.h",    " io/sound/source.c io/sound/sound_kind.c io/sound/encode.c io/sound/joined_sound.c " },
    { "samplerate.h", " io/sound/encode.c io/sound/sound_feed.c io/sound/stereo.c " },
    { "ebur128.h",    " io/sound/loudness.c " },
    { "portaudio.h",  " io/sound/sound_card.c " },
    { "kiss_fft",     " lib/hearing/analyse.c " },
    { "pthread.h",    " io/process/pool.c io/process/child.c io/sound/source.c io/process/mute.c io/sound/sound_feed.c " },
    { "threads.h",    " " },
    { "locale.h",     " " },
    { "utf8proc.h",   " app/report/text_width.c " },
    { "jansson.h",    " app/report/values.h app/report/audit_report.h " },
};

/* Those of `where` that do include it. */
static char seen[COUNT(fences)][300];

static int see_fence(const char *file, const char *line)
{
    char name[NAME_MOST], word[300];
    if (!included(line, name)) return 0;
    snprintf(word, sizeof word, " %s ", file);
    for (size_t i = 0; i < COUNT(fences); i++) {
        if (strncmp(name, fences[i].header, strlen(fences[i].header))) continue;
        if (strstr(fences[i].where, word)) {
            size_t used = strlen(seen[i]);
            if (!strstr(seen[i], word)) snprintf(seen[i] + used, sizeof seen[i] - used, "%s", word);
            continue;
        }
        print_message("src/%s includes %s, which belongs in%s\n", file, name, fences[i].where);
        return 1;
    }
    return 0;
}

/* Files that a fence lets in and that don't need it any more. */
static int leave_to_nobody(void)
{
    int wrong = 0;
    for (size_t i = 0; i < COUNT(fences); i++)
        for (const char *at = fences[i].where + strspn(fences[i].where, " "); *at; at += strspn(at, " ")) {
            char word[NAME_MOST + 2];
            int n = (int)strcspn(at, " ");
            snprintf(word, sizeof word, " %.*s ", n, at);
            at += n;
            if (strstr(seen[i], word)) continue;
            print_message("the fence of %s lets in%sthat doesn't include it\n", fences[i].header, word);
            wrong++;
        }
    return wrong;
}

static void libraries_stay_behind_their_fences(void **state)
{
    (void)state;
    skip_elsewhere();
    assert_int_equal(look_through(see_fence), 0);
    assert_int_equal(leave_to_nobody(), 0);
}

/* Calls that nobody may make, and those that only commands may: elsewhere
 * nothing prints or exits. */
static const struct {
    const char *call;
    bool commands;           /* commands may */
} calls[] = {
    { "setlocale", false }, { "gets", false },   { "strtok", false }, { "rand", false },
    { "system", false },    { "alloca", false },
    { "printf", true },     { "puts", true },    { "exit", true },    { "abort", true },
};

/* Files that are part of a command rather than of a story. */
static bool is_command(const char *file)
{
    static const char *const names[] = { "app/commands/cmd_", "app/commands/commands.", "app/commands/cli.", "app/commands/manual.", "app/main." };
    for (size_t i = 0; i < COUNT(names); i++)
        if (!strncmp(file, names[i], strlen(names[i]))) return true;
    return false;
}

static bool calls_it(const char *line, const char *call)
{
    size_t n = strlen(call);
    for (const char *at = line; (at = strstr(at, call)); at += n) {
        char before = at == line ? ' ' : at[-1];
        bool word = before == '_' || (before >= 'a' && before <= 'z') || (before >= 'A' && before <= 'Z')
                    || (before >= '0' && before <= '9') || before == '.';
        if (at[n] == '(' && !word) return true;
    }
    return false;
}

static int see_call(const char *file, const char *line)
{
    int wrong = 0;
    for (size_t i = 0; i < COUNT(calls); i++) {
        if (!calls_it(line, calls[i].call) || (calls[i].commands && is_command(file))) continue;
        print_message("src/%s calls %s: %s", file, calls[i].call, line);
        wrong++;
    }
    return wrong;
}

static void the_library_prints_nothing_and_never_exits(void **state)
{
    (void)state;
    skip_elsewhere();
    assert_int_equal(look_through(see_call), 0);
}

/* In lib, these belong to memory.c alone. */
static const char *const allocators[] = { "malloc", "calloc", "realloc", "free", "strdup", "strndup", "aligned_alloc" };

static int see_allocation(const char *file, const char *line)
{
    int wrong = 0;
    if (strncmp(file, "lib/", 4) || !strcmp(file, "lib/words/memory.c")) return 0;
    for (size_t i = 0; i < COUNT(allocators); i++) {
        if (!calls_it(line, allocators[i])) continue;
        print_message("src/%s calls %s itself: %s", file, allocators[i], line);
        wrong++;
    }
    return wrong;
}

static void the_library_allocates_in_one_place(void **state)
{
    (void)state;
    skip_elsewhere();
    assert_int_equal(look_through(see_allocation), 0);
}

/* lib is pure: no file, path, clock, thread, signal, environment, locale, output
 * or exit. These are all the headers that it needs from outside, and of stdio
 * only what writes into memory. */
static const char lib_headers[] = " assert.h float.h limits.h math.h stdarg.h stdbool.h "
                                  "stddef.h stdint.h stdio.h stdlib.h string.h"
                                  " kiss_fft.h kiss_fftr.h thundercue.h ";
static const char *const impure[] = {
    "FILE", "fopen", "stdin", "stdout", "stderr", "errno", "getenv", "setenv", "time", "clock", "localtime", "gmtime",
    "signal",
    "raise", "exit", "abort", "atexit", "strtod", "strtof", "atof", "strtol", "strtoll", "atoi", "sscanf", "scanf",
    "fprintf", "printf",
    "puts", "fputs", "putc", "getc", "fread", "fwrite", "fflush", "setlocale", "localeconv", "toupper", "tolower",
    "isalpha", "isspace",
    "rand", "srand", "strerror", "perror", "tmpfile", "remove", "rename",
};

static bool name_part(char c)
{
    return c == '_' || (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9');
}

/* The line without its comments and texts; `inside`: within a comment that began before. */
static void bare(char *to, const char *line, bool *inside)
{
    for (; *line; line++) {
        if (*inside) {
            if (line[0] != '*' || line[1] != '/') continue;
            *inside = false;
            line++;
        } else if (line[0] == '/' && line[1] == '*') {
            *inside = true;
            line++;
        } else if (line[0] == '"') {
            for (line++; *line && *line != '"'; line++)
                if (*line == '\\' && line[1]) line++;
            if (!*line) break;
        } else {
            *to++ = *line;
        }
    }
    *to = 0;
}

static int see_impurity(const char *file, const char *line)
{
    static bool inside;
    static char last[300];
    char text[2000], name[NAME_MOST], word[NAME_MOST + 4];
    int wrong = 0;
    if (strncmp(file, "lib/", 4)) return 0;
    if (strcmp(file, last)) inside = false;
    snprintf(last, sizeof last, "%s", file);
    if (sscanf(line, " # include <%63[^>]", name) == 1) {
        snprintf(word, sizeof word, " %s ", name);
        if (strstr(lib_headers, word)) return 0;
        print_message("src/%s includes <%s>, which a pure library does not need\n", file, name);
        return 1;
    }
    if (strlen(line) >= sizeof text) return 0;
    bare(text, line, &inside);
    for (size_t i = 0; i < COUNT(impure); i++) {
        size_t n = strlen(impure[i]);
        bool type = !strcmp(impure[i], "FILE") || !strncmp(impure[i], "std", 3) || !strcmp(impure[i], "errno");
        for (const char *at = text; (at = strstr(at, impure[i])); at += n) {
            bool whole = (at == text || (!name_part(at[-1]) && at[-1] != '.' && at[-1] != '>')) && !name_part(at[n]);
            if (!whole || (!type && at[n] != '(')) continue;
            print_message("src/%s uses %s: %s", file, impure[i], line);
            wrong++;
        }
    }
    return wrong;
}

static void the_library_is_pure(void **state)
{
    (void)state;
    skip_elsewhere();
    assert_int_equal(see_impurity("lib/x.c", "#include <errno.h>\n"), 1); /* it does see */
    assert_int_equal(see_impurity("lib/x.c", "double v = strtod(cell, &end); /* time() */\n"), 1);
    assert_int_equal(see_impurity("lib/x.c", "snprintf(to, size, \"exit(1)\"); s->time(3);\n"), 0);
    assert_int_equal(look_through(see_impurity), 0);
}

/* ---- Headers ---- */

static void every_header_compiles_alone(void **state)
{
    (void)state;
    skip_elsewhere();
    int wrong = 0;
    for (int i = 0; i < file_count; i++) {
        const char *name = files[i];
        if (name[strlen(name) - 1] != 'h') continue;
        char command[600];
        snprintf(command, sizeof command,
                 "echo '#include \"%s\"' | ${CC:-cc} -std=c17 -Wall -Wextra -Wpedantic "
                 "-Werror -Iinclude -Isrc/lib -Isrc "
                 "-fsyntax-only -x c -", name);
        wrong += system(command) != 0;
    }
    wrong += system("echo '#include <thundercue.h>' | ${CC:-cc} -std=c17 -Wall -Wextra -Wpedantic -Werror -Iinclude "
                    "-fsyntax-only -x c -") != 0;
    assert_int_equal(wrong, 0);
}

/* ---- State ---- */

static void there_is_no_state_at_file_scope(void **state)
{
    (void)state;
    /* what DEVELOPERS.md tells: Ctrl-C; what a crash must still reach; progress; locks on what the process shares */
    static const char allowed[] = " stop guard keyboard last silent open_lock no_forks "
                                  "mute_lock mute_depth mute_saved ";
    const char *program = getenv("THUNDERCUE");
    char command[600], line[400];
    const char *slash = program ? strrchr(program, '/') : NULL;
    if (!slash || !strstr(program, "plain")) {
        print_message("skipped: looked for in the plain build only\n");
        skip();
    }
    snprintf(command, sizeof command, "cd '%.*s' && objdump -t lib.a io/*/*.o app/*.o app/*/*.o",
             (int)(slash - program), program);
    FILE *in = popen(command, "r");
    assert_non_null(in);
    int symbols = 0, wrong = 0;
    while (fgets(line, sizeof line, in)) { /* address, flags, section, size, name */
        char section[100], name[200], word[204];
        if (sscanf(line, "%*16x%*8c %99s %*x %199[^.\n]", section, name) != 2) continue;
        symbols++;
        snprintf(word, sizeof word, " %s ", name);
        bool state_of_its_own = !strcmp(section, ".data") || !strcmp(section, ".bss") || !strcmp(section, ".tbss")
                                || !strcmp(section, ".tdata") || !strcmp(section, "*COM*");
        if (!state_of_its_own || section[0] == name[0] || strstr(allowed, word)) continue;
        print_message("%s is state at file scope (%s)\n", name, section);
        wrong++;
    }
    pclose(in);
    assert_true(symbols > 100);
    assert_int_equal(wrong, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(arrows_point_one_way_only),
        cmocka_unit_test(every_source_has_its_room),
        cmocka_unit_test(no_two_files_include_each_other),
        cmocka_unit_test(libraries_stay_behind_their_fences),
        cmocka_unit_test(the_library_prints_nothing_and_never_exits),
        cmocka_unit_test(the_library_allocates_in_one_place),
        cmocka_unit_test(the_library_is_pure),
        cmocka_unit_test(every_header_compiles_alone),
        cmocka_unit_test(there_is_no_state_at_file_scope),
    };
    return cmocka_run_group_tests(tests, set_up, NULL);
}
