/* The house rules that a reader could break without noticing: arrows between
 * modules point down only, as the table in DEVELOPERS.md says; libraries stay
 * behind their fences; every header compiles alone; no state at file scope. */
#include "check.h"

#include <dirent.h>
#include <sys/stat.h>

enum { MODULES_MOST = 200, NAME_MOST = 64 };
enum layer { WORDS, TOOLS, STAGES, STORY, COMMANDS, LAYERS };

struct pattern {
    char name[NAME_MOST];   /* may end in '*' */
    enum layer layer;
};

static struct pattern patterns[MODULES_MOST];
static size_t pattern_count;

static struct dirent **files;
static int file_count;

static int is_source(const struct dirent *e)
{
    size_t n = strlen(e->d_name);
    return n > 2 && e->d_name[n - 2] == '.' && strchr("ch", e->d_name[n - 1]);
}

/* Rows such as `| L2 stages | what it holds | names in backquotes |`. */
static void read_table(FILE *in)
{
    char line[4096];
    while (fgets(line, sizeof line, in)) {
        int layer;
        if (sscanf(line, "| L%d ", &layer) != 1 || layer < 0 || layer >= LAYERS) continue;
        char *at = strchr(strchr(line + 1, '|') + 1, '|');
        while (at && (at = strchr(at + 1, '`'))) {
            char *end = strchr(at + 1, '`');
            assert_non_null(end);
            assert_true(pattern_count < MODULES_MOST && end - at < NAME_MOST);
            struct pattern *p = &patterns[pattern_count++];
            snprintf(p->name, sizeof p->name, "%.*s", (int)(end - at - 1), at + 1);
            char *dot = strchr(p->name, '.');
            if (dot) *dot = 0;
            p->layer = (enum layer)layer;
            at = end;
        }
    }
}

static int set_up(void **state)
{
    (void)state;
    FILE *in = fopen("DEVELOPERS.md", "r");
    if (!in) return 0; /* not run from the checkout: the tests skip */
    read_table(in);
    fclose(in);
    file_count = scandir("src", &files, is_source, alphasort);
    return 0;
}

static int tear_down(void **state)
{
    (void)state;
    for (int i = 0; i < file_count; i++) free(files[i]);
    free(files);
    return 0;
}

static void skip_elsewhere(void)
{
    if (file_count > 0) return;
    print_message("skipped: not run from the checkout's top folder\n");
    skip();
}

/* A file or an include to its module: "cmd_cue.c" -> "cmd_cue". */
static void module_of(const char *file, char *to)
{
    snprintf(to, NAME_MOST, "%.*s", (int)strcspn(file, "."), file);
}

static int layer_of(const char *file)
{
    char module[NAME_MOST];
    module_of(file, module);
    int found = -1;
    for (size_t i = 0; i < pattern_count; i++) {
        size_t n = strlen(patterns[i].name);
        bool star = n && patterns[i].name[n - 1] == '*';
        if (!strcmp(patterns[i].name, module)) return (int)patterns[i].layer;
        if (star && !strncmp(patterns[i].name, module, n - 1)) found = (int)patterns[i].layer;
    }
    return found;
}

/* Calls `see` for every line of every source file and adds up what it returns. */
static int look_through(int (*see)(const char *file, const char *line))
{
    int wrong = 0;
    for (int i = 0; i < file_count; i++) {
        char path[300], line[4096];
        snprintf(path, sizeof path, "src/%s", files[i]->d_name);
        FILE *in = fopen(path, "r");
        assert_non_null(in);
        while (fgets(line, sizeof line, in)) wrong += see(files[i]->d_name, line);
        fclose(in);
    }
    return wrong;
}

static bool included(const char *line, char *name)
{
    return sscanf(line, " # include \"%63[^\"]", name) == 1 || sscanf(line, " # include <%63[^>]", name) == 1;
}

/* ---- Arrows ---- */

/* A stage may be in parts, named cue.c, cue_path.c and so on. */
static bool parts_of_one(const char *a, const char *b)
{
    size_t n = strcspn(a, "_");
    return n == strcspn(b, "_") && !strncmp(a, b, n) && strncmp(a, "write_", 6);
}

static int see_arrow(const char *file, const char *line)
{
    char name[NAME_MOST], module[NAME_MOST], other[NAME_MOST];
    if (sscanf(line, " # include \"%63[^\"]", name) != 1) return 0;
    module_of(file, module);
    module_of(name, other);
    if (!strcmp(module, other)) return 0;
    size_t whole = strlen(other); /* cue_ways.c is a part of cue */
    if (!strncmp(module, other, whole) && module[whole] == '_') return 0;
    int from = layer_of(file), to = layer_of(name);
    bool stage_to_stage = from == STAGES && to == STAGES && !parts_of_one(module, other);
    if (from >= 0 && to >= 0 && to <= from && !stage_to_stage) return 0;
    print_message("src/%s includes %s: %s\n", file, name,
                  stage_to_stage ? "a stage knows nouns and tools, but no other stage" : "arrows point down only");
    return 1;
}

static void arrows_point_down_only(void **state)
{
    (void)state;
    skip_elsewhere();
    assert_int_equal(look_through(see_arrow), 0);
}

static void every_module_has_its_layer(void **state)
{
    (void)state;
    skip_elsewhere();
    int homeless = 0;
    for (int i = 0; i < file_count; i++) {
        if (layer_of(files[i]->d_name) >= 0) continue;
        print_message("src/%s is not in the table of layers in DEVELOPERS.md\n", files[i]->d_name);
        homeless++;
    }
    for (size_t i = 0; i < pattern_count; i++) {
        bool lives = strchr(patterns[i].name, '*') || !strcmp(patterns[i].name, "thundercue");
        char module[NAME_MOST];
        for (int f = 0; f < file_count && !lives; f++) {
            module_of(files[f]->d_name, module);
            lives = !strcmp(module, patterns[i].name);
        }
        if (!lives) print_message("DEVELOPERS.md: there is no module %s\n", patterns[i].name);
        homeless += !lives;

    }
    assert_int_equal(homeless, 0);
}

/* ---- Fences ---- */

static const struct {
    const char *header;      /* its beginning */
    const char *where;       /* files divided by spaces, each with one before and after */
} fences[] = {
    { "sndfile.h",    " source.c encode.c " },
    { "samplerate.h", " encode.c " },
    { "kiss_fft",     " " },
    { "pthread.h",    " pool.c source.c " },
    { "threads.h",    " " },
    { "locale.h",     " " },
    { "ini.h",        " rig_file.c settings.c " },
    { "jansson.h",    " values.h report.c write_preview.c cmd_check.c cmd_tune.c " },
};

static int see_fence(const char *file, const char *line)
{
    char name[NAME_MOST], word[300];
    if (!included(line, name)) return 0;
    snprintf(word, sizeof word, " %s ", file);
    for (size_t i = 0; i < COUNT(fences); i++) {
        if (strncmp(name, fences[i].header, strlen(fences[i].header)) || strstr(fences[i].where, word)) continue;
        print_message("src/%s includes %s, which belongs in%s\n", file, name, fences[i].where);
        return 1;
    }
    return 0;
}

static void libraries_stay_behind_their_fences(void **state)
{
    (void)state;
    skip_elsewhere();
    assert_int_equal(look_through(see_fence), 0);
}

/* Calls that one place or nobody may make. The library prints nothing and
 * never exits: below the commands there is no printf and no exit. */
static const struct {
    const char *call;
    enum layer from;         /* this layer and those above may */
} calls[] = {
    { "setlocale", LAYERS }, { "gets", LAYERS },     { "strtok", LAYERS }, { "rand", LAYERS },
      { "system", LAYERS }, { "alloca", LAYERS },
    { "printf", COMMANDS },  { "puts", COMMANDS }, { "exit", COMMANDS }, { "abort", COMMANDS },
};

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
        if (!calls_it(line, calls[i].call) || layer_of(file) >= (int)calls[i].from) continue;
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

/* ---- Headers ---- */

static void every_header_compiles_alone(void **state)
{
    (void)state;
    skip_elsewhere();
    int wrong = 0;
    for (int i = 0; i < file_count; i++) {
        const char *name = files[i]->d_name;
        if (name[strlen(name) - 1] != 'h') continue;
        char command[600];
        snprintf(command, sizeof command,
                 "echo '#include \"%s\"' | ${CC:-cc} -std=c17 -Wall -Wextra -Wpedantic -Werror -Iinclude -Isrc "
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
    static const char allowed[] = " stop last silent open_lock "; /* Ctrl-C and progress; the lock around libsndfile */
    const char *program = getenv("THUNDERCUE");
    char command[600], line[400];
    const char *slash = program ? strrchr(program, '/') : NULL;
    if (!slash || !strstr(program, "plain")) {
        print_message("skipped: looked for in the plain build only\n");
        skip();
    }
    snprintf(command, sizeof command, "objdump -t '%.*s/libthundercue.a'", (int)(slash - program), program);
    FILE *in = popen(command, "r");
    assert_non_null(in);
    int symbols = 0, wrong = 0;
    while (fgets(line, sizeof line, in)) { /* address, flags, section, size, name */
        char section[100], name[200], word[204];
        if (sscanf(line, "%*16x%*7c %99s %*x %199[^.\n]", section, name) != 2) continue;
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
        cmocka_unit_test(arrows_point_down_only),
        cmocka_unit_test(every_module_has_its_layer),
        cmocka_unit_test(libraries_stay_behind_their_fences),
        cmocka_unit_test(the_library_prints_nothing_and_never_exits),
        cmocka_unit_test(every_header_compiles_alone),
        cmocka_unit_test(there_is_no_state_at_file_scope),
    };
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
