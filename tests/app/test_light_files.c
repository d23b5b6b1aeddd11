/* The files that the program writes, counted by somebody who has nothing but
 * them and the rig file: frames.csv held from row to row and sliding between
 * rows, ramps.csv by its straight lines. The rule: WCAG 2.2, SC 2.3.1, at most
 * three flashes in any second, for whoever begins to look at any moment; light
 * is summed over all lamps, by watts, through their curves (CIE 15), and over
 * branches, floods and every group. Nothing here is shared with the library.
 *
 * Real recordings are used where they are present, made-up events always. */
#include "cases.h"
#include "scratch.h"

#include <fcntl.h>
#include <math.h>
#include <sys/wait.h>

enum { CASES = 60, CASES_QUICK = 12, LAMPS_MOST = 40, GROUPS_MOST = 4, COLUMNS_MOST = 128, STEPS = 4,
       OPTIONS_MOST = 24 };

/* ---- Random numbers, an own small generator: SplitMix64 (Vigna) ---- */

static uint64_t state_now;

static uint64_t draw(void)
{
    uint64_t z = state_now += 0x9E3779B97F4A7C15u;
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9u;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBu;
    return z ^ (z >> 31);
}

static int below(int n) { return (int)(draw() % (uint64_t)n); }
static bool chance(int percent) { return below(100) < percent; }

/* ---- Rigs ---- */

enum { ALL, BRANCHES, FLOODS, FIRST_GROUP, SERIES_MOST = FIRST_GROUP + GROUPS_MOST };
enum { LINEAR, SQUARE, LSTAR };
static const char *const curves[] = { "linear", "square", "lstar" };

struct lamp {
    int number, group;       /* group -1: none */
    bool flood;
    int curve;
    double weight, least, most;
};

static struct lamp lamps[LAMPS_MOST];
static int lamp_count, group_count;

/* The built-in rig, by its words in the manual. */
static void built_in(void)
{
    lamp_count = 16;
    group_count = 0;
    for (int i = 0; i < lamp_count; i++)
        lamps[i] = (struct lamp){ .number = i + 1, .group = -1, .flood = i >= 12, .weight = i < 12 ? 5 : 15,
                                  .most = 100 };
}

static void draw_rig(const char *path)
{
    FILE *out = fopen(path, "wb");
    assert_non_null(out);
    lamp_count = 1 + below(chance(20) ? LAMPS_MOST : 18);
    group_count = chance(40) ? 1 + below(GROUPS_MOST) : 0;
    bool lumens = chance(15), curved = chance(40), narrow = chance(30), slow = chance(30);
    int number = 0, branch = 0;
    fputs("[rig]\nname = drawn\n[circuit house]\nbreaker_amps = 100\n", out);
    for (int i = 0; i < lamp_count; i++) {
        struct lamp *l = &lamps[i];
        *l = (struct lamp){ .number = number += 1 + (chance(10) ? below(3) : 0), .flood = chance(30),
                            .group = below(group_count + 1) - 1, .curve = curved ? below(3) : LINEAR, .most = 100,
                            .weight = 1 + below(chance(10) ? 300 : 20) };
        if (narrow) l->least = below(40), l->most = l->least + 15 + below(46);
        fprintf(out,
                "[channel %d]\nname = lamp %d\nkind = %s\ncircuit = house\nwatts = %g\ncurve = %s\nmin_level = %g\n"
                "max_level = %g\n",
                l->number, l->number, l->flood ? "flood" : "branch", l->weight, curves[l->curve], l->least, l->most);
        if (lumens) fprintf(out, "lumens = %g\n", l->weight = 50 + below(2000));
        if (l->group >= 0) fprintf(out, "group = g%d\n", l->group);
        if (slow && chance(40)) fprintf(out, "rise_ms = %d\nfall_ms = %d\n", below(120), below(200));
        if (slow && chance(30)) fprintf(out, "lead_ms = %d\n", below(100));
        if (!l->flood && branch && chance(80)) fprintf(out, "parent = %d\n", branch);
        if (!l->flood && chance(70)) branch = l->number;
    }
    assert_int_equal(fclose(out), 0);
}

static double light_of(const struct lamp *l, double percent)
{
    if (percent <= 0 || percent < l->least - 1e-9) return 0;
    double x = fmin(1, (percent - l->least) / (l->most - l->least));
    if (l->curve == SQUARE) return x * x;
    if (l->curve == LSTAR) return x > 0.08 ? pow((100 * x + 16) / 116, 3) : 100 * x / 903.2963; /* CIE 15 */
    return x;
}

/* ---- Runs ---- */

struct run {
    char *words[2 * OPTIONS_MOST];
    int count;
    int limit, rate;
    bool loop, numbered;
    double full;
};

static void say(struct run *r, const char *form, ...) __attribute__((format(printf, 2, 3)));
static void say(struct run *r, const char *form, ...)
{
    char word[1200];
    va_list list;
    va_start(list, form);
    vsnprintf(word, sizeof word, form, list);
    va_end(list);
    assert_true(r->count < 2 * OPTIONS_MOST - 1);
    assert_non_null(r->words[r->count++] = strdup(word));
}

static void run_release(struct run *r)
{
    for (int i = 0; i < r->count; i++) free(r->words[i]);
}

static void show(const struct run *r)
{
    for (int i = 0; i < r->count; i++) print_message(" %s", r->words[i]);
    print_message("\n");
}

/* Settings that shape light, with values at and near their bounds. */
static const struct { const char *name, *values[6]; } shapes[] = {
    { "stroke-stop", { "0.05", "0.1", "1" } },          { "interval", { "10", "20", "150", "334", "500" } },
    { "interval-spread", { "0", "0.8" } },              { "restrike-light", { "0", "0.2", "1" } },
    { "restrike-spread", { "0", "1" } },                { "glow-chance", { "0", "1" } },
    { "glow-light", { "0.05", "0.1", "0.3", "1" } },    { "glow-length", { "10", "500", "2000" } },
    { "decay", { "5", "20", "200", "1000" } },          { "flood-decay", { "5", "30", "400", "2000" } },
    { "leader", { "0.05", "0.09", "0.2", "0.5" } },     { "strength", { "0.05", "0.12", "0.3" } },
    { "branch-share", { "0", "0.2" } },                 { "flood-share", { "0", "0.2" } },
    { "weakest-light", { "0", "0.1", "1" } },           { "far-light", { "0", "1" } },
    { "fork-share", { "0", "1" } },                     { "rumble-light", { "0", "0.09", "0.15", "0.3", "0.5" } },
    { "glimmer", { "0", "1" } },                        { "heard-within", { "off", "100", "2000" } },
};

static void draw_run(struct run *r, const char *program, char **recordings)
{
    static const int rates[] = { 1, 2, 3, 10, 24, 25, 30, 40, 40, 40, 44, 60, 97, 120 };
    *r = (struct run){ .limit = chance(70) ? 3 : 1 + below(2), .rate = rates[below(COUNT(rates))], .loop = chance(30), .full = 100 };
    bool rig = chance(80);
    if (rig) draw_rig(scratch_at("drawn.rig"));
    else built_in();
    say(r, "%s", program);
    say(r, "cue");
    int count = 0;
    while (recordings && recordings[count]) count++;
    if (count && chance(50)) {
        say(r, "%s", recordings[below(count)]);
        if (chance(20)) say(r, "--from=%d.%d", below(3), below(10));
    } else {
        FILE *out = fopen(scratch_at("drawn.csv"), "wb");
        assert_non_null(out);
        double at = below(500) / 1000.0, end = 1 + below(6);
        static const double steps[] = { 0.01, 0.025, 0.05, 0.1, 0.166, 0.333, 0.334, 0.9, 1 };
        int shape = below(COUNT(steps) + 2);
        fputs("kind,start_s,end_s,strength,sharpness,strokes\n", out);
        for (int i = 0; at < end && i < 120; i++) {
            fprintf(out, "crack,%.3f,%.3f,0.%02d,0.%02d,", at, at, chance(30) ? 99 : below(100), below(100));
            chance(30) ? fprintf(out, "%d\n", 1 + below(20)) : fputs("\n", out);
            at += shape < (int)COUNT(steps) ? steps[shape] : 0.01 + below(shape == COUNT(steps) ? 300 : 900) / 1000.0;
        }
        for (int i = below(3); i > 0; i--) fprintf(out, "rumble,%.3f,%.3f,1,0,\n", end * below(80) / 100, end);
        assert_int_equal(fclose(out), 0);
        say(r, "--events=%s", scratch_at("drawn.csv"));
    }
    if (rig) say(r, "--rig=%s", scratch_at("drawn.rig"));
    say(r, "--out=%s", scratch_at("out"));
    say(r, "--no-preview");
    say(r, "--quiet");
    say(r, "--discard-edits");
    say(r, "--seed=%d", below(1000));
    say(r, "--sensitivity=%d", 10 * below(11));
    say(r, "--flash-limit=%d", r->limit);
    say(r, "--frame-rate=%d", r->rate);
    if (r->loop) say(r, "--loop");
    if (chance(30)) say(r, "--levels=8bit"), r->full = 255;
    if (chance(20)) say(r, "--outputs=%d", COLUMNS_MOST - 1), r->numbered = true;
    if (chance(20)) say(r, "--lead=%d", 10 << below(8));
    if (chance(15)) say(r, "--distance=%d", 100 * below(20));
    if (chance(15)) say(r, "--shift=%d.%03d", below(3700), below(1000));
    for (int i = chance(40) ? 1 + below(4) : 0; i > 0; i--) {
        size_t which = (size_t)below(COUNT(shapes));
        int values = 0;
        while (shapes[which].values[values]) values++;
        say(r, "--%s=%s", shapes[which].name, shapes[which].values[below(values)]);
    }
}

static int status_of(const struct run *r)
{
    int status;
    pid_t child = fork();
    if (!child) {
        int to = open(scratch_at("said.txt"), O_WRONLY | O_CREAT | O_TRUNC, 0666);
        dup2(to, STDOUT_FILENO);
        dup2(to, STDERR_FILENO);
        execv(r->words[0], r->words);
        _exit(127);
    }
    assert_int_equal(waitpid(child, &status, 0), child);
    return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

/* The one file of that ending in the folder. */
static char *written(const char *ending)
{
    DIR *folder = opendir(scratch_at("out"));
    char *text = NULL;
    assert_non_null(folder);
    for (struct dirent *e; (e = readdir(folder));) {
        const char *at = strstr(e->d_name, ending);
        if (!at || strcmp(at, ending)) continue;
        char name[400];
        size_t size;
        snprintf(name, sizeof name, "out/%s", e->d_name);
        assert_null(text);
        assert_non_null(text = scratch_read(scratch_at(name), &size));
    }
    closedir(folder);
    assert_non_null(text);
    return text;
}

/* ---- Light over time ---- */

struct film {
    size_t rows, room;
    double *at;              /* seconds */
    double *light;           /* [row * SERIES_MOST + series], all on = 1 */
    double all_on[SERIES_MOST];
};

static bool is_in(const struct lamp *l, int series)
{
    return series == ALL || (series == BRANCHES && !l->flood) || (series == FLOODS && l->flood)
        || (l->group >= 0 && series == FIRST_GROUP + l->group);
}

static void film_begin(struct film *f)
{
    *f = (struct film){ .rows = 0 };
    for (int s = 0; s < FIRST_GROUP + group_count; s++)
        for (int i = 0; i < lamp_count; i++)
            if (is_in(&lamps[i], s)) f->all_on[s] += lamps[i].weight;
}

/* A row of levels, by lamp. */
static void film_put(struct film *f, double at, const double *levels, double full)
{
    if (f->rows == f->room) {
        f->room = f->room ? 2 * f->room : 1024;
        f->at = realloc(f->at, f->room * sizeof *f->at);
        f->light = realloc(f->light, f->room * SERIES_MOST * sizeof *f->light);
        assert_true(f->at && f->light);
    }
    double *sum = f->light + f->rows * SERIES_MOST;
    memset(sum, 0, SERIES_MOST * sizeof *sum);
    f->at[f->rows++] = at;
    for (int i = 0; i < lamp_count; i++) {
        double light = light_of(&lamps[i], levels[i] * 100 / full) * lamps[i].weight;
        for (int s = 0; s < FIRST_GROUP + group_count; s++)
            if (is_in(&lamps[i], s)) sum[s] += light / f->all_on[s];
    }
}

static void film_end(struct film *f)
{
    free(f->at);
    free(f->light);
}

/* The most changes of 10 % or more, one against the other, that somebody finds
 * in one series within a second. Held light: he may begin just before a row. */
static int most_changes(const struct film *f, int series, bool held)
{
    int most = 0;
    for (size_t from = 0; from + 1 < f->rows; from++) {
        const double *light = f->light + (size_t)series;
        double low = light[from * SERIES_MOST], high = low,
            end = (held || from == 0 ? f->at[from + 1] : f->at[from]) + 1 - 1e-6;
        int heading = 0, changes = 0;
        if (!(fabs(light[(from + 1) * SERIES_MOST] - low) > 0)) continue; /* a later look sees the same, and longer */
        for (size_t k = from + 1; k < f->rows && f->at[k] < end; k++) {
            double now = light[k * SERIES_MOST];
            low = fmin(low, now);
            high = fmax(high, now);
            int turn = heading < 1 && now - low >= 0.10 - 1e-9 ? 1 : heading > -1 && high - now >= 0.10 - 1e-9 ? -1 : 0;
            if (!turn) continue;
            heading = turn;
            changes++;
            low = high = now;
        }
        if (changes > most) most = changes;
    }
    return most;
}

static void judge(const struct film *f, const struct run *r, const char *how, bool held)
{
    for (int s = 0; s < FIRST_GROUP + group_count; s++) {
        int changes = most_changes(f, s, held);
        if (changes <= 2 * r->limit) continue;
        show(r);
        fail_msg("%s, series %d: %d changes in a second, %d allowed", how, s, changes, 2 * r->limit);
    }
}

/* ---- The files ---- */

struct table {
    size_t rows;
    double *at, *levels;     /* [row * lamps + lamp] */
};

static struct table read_frames(const struct run *r)
{
    struct table t = { .rows = 0 };
    char *text = written(".frames.csv"), *line = strchr(text, '\n') + 1;
    for (const char *c = line; *c; c++) t.rows += *c == '\n';
    t.at = calloc(t.rows + 1, sizeof *t.at);
    t.levels = calloc((t.rows + 1) * (size_t)lamp_count, sizeof *t.levels);
    assert_true(t.at && t.levels && t.rows);
    for (size_t row = 0; row < t.rows; row++) {
        double cells[COLUMNS_MOST];
        int n = 0;
        for (char *end; n < COLUMNS_MOST; line = end + 1) {
            cells[n++] = strtod(line, &end);
            if (*end != ',') {
                line = strchr(end, '\n') + 1;
                break;
            }
        }
        t.at[row] = cells[0];
        assert_int_equal(n, r->numbered ? COLUMNS_MOST : lamp_count + 1);
        for (int i = 0; i < lamp_count; i++)
            t.levels[row * (size_t)lamp_count + (size_t)i] = cells[r->numbered ? lamps[i].number : i + 1];
    }
    free(text);
    return t;
}

static void table_end(struct table *t)
{
    free(t->at);
    free(t->levels);
}

/* Rows held, or sliding with STEPS moments from row to row. */
static void count_frames(const struct run *r, const struct table *t, int steps)
{
    struct film f;
    double black[LAMPS_MOST] = { 0 }, lap = t->rows > 1 ? t->at[t->rows - 1] - t->at[0] + 1.0 / r->rate : 1;
    film_begin(&f);
    film_put(&f, -1e9, black, r->full);
    for (int round = 0; round < 1 + r->loop; round++)
        for (size_t row = 0; row < t->rows; row++) {
            const double *to = t->levels + row * (size_t)lamp_count, *from = row ? to - lamp_count : black;
            double at = t->at[row] + round * lap, before = row ? t->at[row - 1] + round * lap : at - 1.0 / r->rate;
            for (int k = 1; k < steps && (row || round); k++) {
                double levels[LAMPS_MOST], part = (double)k / steps;
                for (int i = 0; i < lamp_count; i++) levels[i] = from[i] + part * (to[i] - from[i]);
                film_put(&f, before + part * (at - before), levels, r->full);
            }
            film_put(&f, at, to, r->full);
        }
    judge(&f, r, steps > 1 ? "frames.csv, sliding" : "frames.csv, held", steps == 1);
    film_end(&f);
}

/* One lamp's straight lines, as they follow each other. */
struct line {
    double start, end, from, to;
};

struct lines {
    struct line *list;
    size_t count, at;
    double held;
};

static void read_ramps(struct lines *lines)
{
    char *text = written(".ramps.csv");
    memset(lines, 0, LAMPS_MOST * sizeof *lines);
    for (char *row = strchr(text, '\n') + 1; *row; row = strchr(row, '\n') + 1) {
        struct line l;
        int number = 0, which = 0;
        assert_int_equal(sscanf(row, "%d,%*[^,],%lf,%lf,%lf,%lf", &number, &l.start, &l.end, &l.from, &l.to), 5);
        while (which < lamp_count && lamps[which].number != number) which++;
        assert_true(which < lamp_count);
        struct lines *of = &lines[which];
        if (!(of->count & (of->count - 1))) of->list = realloc(of->list, (of->count ? 2 * of->count : 1) * sizeof l);
        assert_non_null(of->list);
        of->list[of->count++] = l;
    }
    free(text);
}

/* The level just before a moment, or at it; moments come in order. */
static double level_at(struct lines *l, double at, bool before)
{
    double slack = before ? -1e-7 : 1e-7;
    while (l->at < l->count && l->list[l->at].end <= at + slack) l->held = l->list[l->at++].to;
    const struct line *now = l->list + l->at;
    if (l->at == l->count || now->start >= at + slack) return l->held;
    return now->from + (now->to - now->from) * fmin(1, (at - now->start) / (now->end - now->start));
}

static void count_ramps(const struct run *r, const struct table *t)
{
    struct film f;
    static struct lines lines[LAMPS_MOST];
    double levels[LAMPS_MOST] = { 0 };
    read_ramps(lines);
    film_begin(&f);
    film_put(&f, -1e9, levels, r->full);
    for (size_t row = 0; row < t->rows; row++) {
        double last = row ? t->at[row - 1] : t->at[0] - 1.0 / r->rate;
        for (int k = 1; k <= STEPS + 1; k++) { /* moments on the way, just before the frame, and at it */
            double at = k < STEPS ? last + (t->at[row] - last) * k / STEPS : t->at[row];
            for (int i = 0; i < lamp_count; i++) levels[i] = level_at(&lines[i], at, k == STEPS);
            film_put(&f, k == STEPS ? at - 1e-5 : at, levels, r->full);
        }
    }
    judge(&f, r, "ramps.csv", false);
    for (int i = 0; i < lamp_count; i++) {
        /* all lines end with the timeline, in the dark */
        assert_true(lines[i].at == lines[i].count && !(lines[i].held > 0));
        free(lines[i].list);
    }
    film_end(&f);
}

/* ---- The test ---- */

static void no_file_flashes_too_often(void **state)
{
    (void)state;
    const char *named = getenv("THUNDERCUE");
    const char *program = named ? named : "build/thundercue";
    char **recordings = recordings_folder() ? recordings_list() : NULL;
    int n = cases(CASES, CASES_QUICK), dark = 0;
    if (access(program, X_OK)) fail_msg("%s is not there", program);
    for (int i = 0; i < n; i++) {
        struct run r;
        state_now = 77 * (uint64_t)i;
        draw_run(&r, program, recordings);
        int status = status_of(&r);
        if (status) {
            show(&r);
            size_t size;
            fail_msg("case %d: status %d: %s", i, status, scratch_read(scratch_at("said.txt"), &size));
        }
        struct table t = read_frames(&r);
        count_frames(&r, &t, 1);
        count_frames(&r, &t, STEPS);
        count_ramps(&r, &t);
        bool lit = false;
        for (size_t k = 0; k < t.rows * (size_t)lamp_count; k++) lit |= t.levels[k] > 0;
        for (int k = 0; k < lamp_count; k++)
            assert_true(!(t.levels[(t.rows - 1) * (size_t)lamp_count + (size_t)k] > 0));
        dark += !lit;
        table_end(&t);
        run_release(&r);
        scratch_remove(scratch_at("out"));
    }
    print_message("    %d shows, %s recordings, %d of them without any light\n", n, recordings ? "with" : "without",
                  dark);
    assert_true(dark < n / 3); /* else this test would prove little */
    if (recordings) recordings_free(recordings);
}

/* The counter itself finds too many where the limit is off. */
static void without_a_limit_it_would(void **state)
{
    (void)state;
    const char *named = getenv("THUNDERCUE");
    scratch_put("drawn.csv", "kind,start_s,strokes\ncrack,1,9\ncrack,1.5,9\n");
    built_in();
    struct run r = { .limit = 3, .rate = 40, .full = 100 };
    say(&r, "%s", named ? named : "build/thundercue");
    say(&r, "cue");
    say(&r, "--events=%s", scratch_at("drawn.csv"));
    say(&r, "--out=%s", scratch_at("out"));
    say(&r, "--no-preview");
    say(&r, "--quiet");
    say(&r, "--flash-limit=off");
    assert_int_equal(status_of(&r), 0);
    struct table t = read_frames(&r);
    struct film f;
    film_begin(&f);
    for (size_t row = 0; row < t.rows; row++) film_put(&f, t.at[row], t.levels + row * (size_t)lamp_count, r.full);
    assert_true(most_changes(&f, ALL, true) > 6);
    film_end(&f);
    table_end(&t);
    run_release(&r);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(without_a_limit_it_would, scratch_set_up, scratch_tear_down),
        cmocka_unit_test_setup_teardown(no_file_flashes_too_often, scratch_set_up, scratch_tear_down),
    };
    return cmocka_run_group_tests_name("light_files", tests, NULL, NULL);
}
