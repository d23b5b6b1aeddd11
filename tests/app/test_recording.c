/* The main job from end to end, on real recordings where they are present and
 * on the sample storm always: what the written files promise each other. */
#include "flash_brute.h"
#include "scratch.h"

#include "app/clip/listen_file.h"
#include "app/clip/recording.h"
#include "io/files/read_form.h"
#include "words/csv.h"
#include "words/numbers.h"
#include "words/units.h"

struct table {
    size_t rows, columns;
    double *cell;             /* NAN where the text is no number */
    char (*kind)[16];         /* first column as text */
};

static struct table read_table(const char *path)
{
    struct table t = { 0 };
    size_t size = 0;
    char *text = scratch_read(path, &size);
    assert_non_null(text);
    struct csv *csv = csv_open(text, size);
    size_t room = 0;
    assert_int_equal(csv_next(csv), CSV_ROW);
    t.columns = csv_count(csv);
    while (csv_next(csv) == CSV_ROW) {
        assert_int_equal(csv_count(csv), t.columns);
        if (t.rows == room) {
            room = room ? 2 * room : 1024;
            t.cell = realloc(t.cell, room * t.columns * sizeof *t.cell);
            t.kind = realloc(t.kind, room * sizeof *t.kind);
        }
        for (size_t c = 0; c < t.columns; c++) {
            double v;
            t.cell[t.rows * t.columns + c] = number_read(csv_get(csv, c), &v) ? v : (double)NAN;
        }
        snprintf(t.kind[t.rows++], sizeof *t.kind, "%s", csv_get(csv, 0));
    }
    csv_close(csv);
    free(text);
    return t;
}

static double at(const struct table *t, size_t row, size_t column)
{
    return t->cell[row * t->columns + column];
}

static void table_free(struct table *t)
{
    free(t->cell);
    free(t->kind);
}

/* One run, its folder and its outcome. */
struct done {
    char folder[256];
    struct tc_rig rig;
    struct tc_settings settings;
    struct outcome outcome;
};

static void do_cue(struct done *d, const char *recording, const char *events)
{
    struct tc_problem why = { "" };
    scratch_make(d->folder, sizeof d->folder);
    assert_int_equal(tc_rig_builtin(&d->rig), TC_OK);
    struct job job = { .recording = recording, .events = events, .out_dir = d->folder, .stem = "storm" };
    if (recording_run(&job, &d->rig, &d->settings, &d->outcome, &why) != TC_OK) fail_msg("%s", why.text);
}

static void undo(struct done *d)
{
    outcome_clear(&d->outcome);
    tc_rig_clear(&d->rig);
    scratch_remove(d->folder);
}

/* ---- Promises ---- */

static void check_rows(const struct done *d, const struct table *frames)
{
    assert_int_equal(frames->columns, 1 + d->rig.channel_count);
    double rate = (double)d->settings.frame_rate;
    for (size_t f = 0; f < frames->rows; f++) {
        assert_near(at(frames, f, 0), (double)f / rate + d->settings.shift_s, 0.0005001);
        for (size_t c = 1; c < frames->columns; c++) assert_true(at(frames, f, c) >= 0 && at(frames, f, c) <= 100);
    }
    for (size_t c = 1; c < frames->columns; c++) assert_near(at(frames, frames->rows - 1, c), 0, 0);
    /* the last row is the first frame at or after the end */
    assert_int_equal(frames->rows - 1, (d->outcome.length_ms * d->settings.frame_rate + 999) / 1000);
}

/* Ramps read as their format says give the level of every frame. */
static void check_ramps(const struct done *d, const struct table *frames, const struct table *ramps)
{
    size_t channels = d->rig.channel_count;
    double rate = (double)d->settings.frame_rate;
    size_t *current = calloc(channels, sizeof *current), next = 0;
    for (size_t c = 0; c < channels; c++) current[c] = SIZE_MAX;
    for (size_t i = 1; i < ramps->rows; i++)
        assert_true(at(ramps, i - 1, 2) < at(ramps, i, 2)
                    || (at(ramps, i - 1, 2) <= at(ramps, i, 2) && at(ramps, i - 1, 0) <= at(ramps, i, 0)));
    for (size_t f = 0; f < frames->rows; f++) {
        double now = at(frames, f, 0);
        for (; next < ramps->rows && at(ramps, next, 2) <= now; next++)
            current[(size_t)at(ramps, next, 0) - 1] = next;
        for (size_t c = 0; c < channels; c++) {
            double level = 0;
            if (current[c] != SIZE_MAX) {
                size_t r = current[c];
                double start = at(ramps, r, 2), end = at(ramps, r, 3);
                double share = end > start ? (now - start) / (end - start) : 1;
                level = at(ramps, r, 4) + (share < 1 ? share : 1) * (at(ramps, r, 5) - at(ramps, r, 4));
            }
            /* times are rounded to 1 ms: a steep ramp may be off by its slope over that */
            double slack = 0.26 + 100 * 0.001 * rate;
            assert_near(level, at(frames, f, c + 1), current[c] == SIZE_MAX ? 0 : slack);
        }
    }
    free(current);
}

static double summed(const struct table *frames, size_t f)
{
    double sum = 0;
    for (size_t c = 1; c < frames->columns; c++) sum += at(frames, f, c);
    return sum;
}

/* Every crack brings a rise of light in its own frame, and no rise as steep as
 * a stroke comes where neither a crack nor its restrikes (within half a second)
 * nor a rumble is. */
static void check_light_follows_sound(const struct done *d, const struct table *frames,
                                      const struct table *events)
{
    int64_t rate = d->settings.frame_rate;
    for (size_t i = 0; i < events->rows; i++) {
        if (strcmp(events->kind[i], "crack")) continue;
        size_t f = (size_t)frame_at((int64_t)(at(events, i, 1) * 1000 + 0.5), rate);
        if (f + 1 >= frames->rows) continue; /* the last frame is black */
        double before = f ? summed(frames, f - 1) : 0;
        if (!(summed(frames, f) > before))
            fail_msg("crack at %.3f s: no rise of light in frame %zu", at(events, i, 1), f);
    }
    for (size_t f = 1; f < frames->rows; f++) {
        if (summed(frames, f) <= summed(frames, f - 1) + 0.5) continue;
        double now = at(frames, f, 0);
        bool reason = false;
        for (size_t i = 0; i < events->rows && !reason; i++) {
            bool crack = !strcmp(events->kind[i], "crack");
            double from = at(events, i, 1) - 1.0 / (double)rate - 0.001;
            double to = at(events, i, 2) + (crack ? 2.5 : 1.0);
            reason = now >= from && now <= to;
        }
        if (!reason) fail_msg("light rises at %.3f s, where nothing is heard", now);
    }
}

/* Counted from the written file with nothing but the rule, and whoever begins
 * to look at whatever row. */
static void check_flashes(const struct done *d, const struct table *frames)
{
    size_t n = d->rig.channel_count;
    double *lamp = calloc(frames->rows * n + 1, sizeof *lamp);
    int64_t *at_us = calloc(frames->rows + 1, sizeof *at_us);
    assert_true(lamp && at_us);
    for (size_t f = 0; f < frames->rows; f++) {
        at_us[f] = (int64_t)f * 1000000 / d->settings.frame_rate;
        for (size_t c = 0; c < n; c++) lamp[f * n + c] = brute_lamp(&d->rig.channels[c], at(frames, f, c + 1));
    }
    assert_true(brute_show(&d->rig, lamp, at_us, frames->rows) <= 6);
    free(lamp);
    free(at_us);
}

static void check_all(const char *recording, struct tc_settings settings)
{
    struct done d = { .settings = settings };
    do_cue(&d, recording, NULL);
    struct table events = read_table(d.outcome.paths[RUN_EVENTS]);
    struct table ramps = read_table(d.outcome.paths[RUN_RAMPS]);
    struct table frames = read_table(d.outcome.paths[RUN_FRAMES]);
    assert_int_equal(events.rows, d.outcome.cracks + d.outcome.rumbles);
    assert_true(d.outcome.cracks + d.outcome.rumbles > 0); /* a recording may be one long roll */
    check_rows(&d, &frames);
    check_ramps(&d, &frames, &ramps);
    check_light_follows_sound(&d, &frames, &events);
    check_flashes(&d, &frames);
    table_free(&events);
    table_free(&ramps);
    table_free(&frames);
    undo(&d);
}

static const char sample[] = "samples/mill-pond.flac";

static void the_sample_keeps_every_promise(void **state)
{
    (void)state;
    static const int64_t rates[] = { 25, 40, 60, 120 };
    for (size_t i = 0; i < COUNT(rates); i++) {
        struct tc_settings s = tc_settings_default();
        s.frame_rate = rates[i];
        s.seed = (int64_t)i;
        check_all(sample, s);
    }
}

static void real_recordings_keep_every_promise(void **state)
{
    (void)state;
    if (!recordings_folder()) {
        puts("no real recordings here (THUNDERCUE_RECORDINGS names their folder): skipped");
        skip();
    }
    char **list = recordings_list();
    for (size_t i = 0; list[i]; i++)
        for (int64_t seed = 1; seed <= 3; seed++) {
            struct tc_settings s = tc_settings_default();
            s.seed = seed;
            check_all(list[i], s);
        }
    recordings_free(list);
}

static void compare_outputs(const struct done *a, const struct done *b, bool same)
{
    bool equal = true;
    for (int i = 0; i < RUN_FILES; i++) {
        if (!a->outcome.paths[i] || (i == RUN_EVENTS && !same)) continue;
        size_t n = 0, m = 0;
        char *x = scratch_read(a->outcome.paths[i], &n), *y = scratch_read(b->outcome.paths[i], &m);
        equal = equal && n == m && !memcmp(x, y, n);
        free(x);
        free(y);
    }
    assert_int_equal(equal, same);
}

static void the_same_input_and_seed_give_the_same_bytes(void **state)
{
    (void)state;
    struct done a = { .settings = tc_settings_default() }, b = a, c = a;
    c.settings.seed = 2;
    do_cue(&a, sample, NULL);
    do_cue(&b, sample, NULL);
    do_cue(&c, sample, NULL);
    compare_outputs(&a, &b, true);
    compare_outputs(&a, &c, false);
    undo(&a);
    undo(&b);
    undo(&c);
}

static void cueing_from_the_events_file_gives_the_same_bytes(void **state)
{
    (void)state;
    struct done a = { .settings = tc_settings_default() }, b = a;
    do_cue(&a, sample, NULL);
    do_cue(&b, sample, a.outcome.paths[RUN_EVENTS]);
    compare_outputs(&a, &b, true);
    undo(&a);
    undo(&b);
}

/* The way of working with a spreadsheet: edit the file where it lies. */
static void an_edited_events_file_stays_as_it_is(void **state)
{
    (void)state;
    static const char edited[] = "kind,start_s,note\ncrack,2.5,the door slams\n";
    struct done d = { .settings = tc_settings_default() };
    do_cue(&d, sample, NULL);
    char events[4200];
    snprintf(events, sizeof events, "%s", d.outcome.paths[RUN_EVENTS]);
    FILE *out = fopen(events, "w");
    fputs(edited, out);
    fclose(out);
    struct outcome again = { 0 };
    struct tc_problem why = { "" };
    struct job job = { .recording = sample, .events = events, .out_dir = d.folder, .stem = "storm", .over = OVER_OURS };
    if (recording_run(&job, &d.rig, &d.settings, &again, &why) != TC_OK) fail_msg("%s", why.text);
    assert_int_equal(again.cracks, 1);
    assert_null(again.paths[RUN_EVENTS]);
    char *text = scratch_read(events, NULL);
    assert_string_equal(text, edited);
    free(text);
    outcome_clear(&again);
    undo(&d);
}

/* A crack that the flash limit leaves nearly dark is told as that and not as a
 * stroke, in the report and in the page. */
static void dark_cracks_are_no_strokes(void **state)
{
    (void)state;
    static const char crowd[] = "kind,start_s,strokes\ncrack,2,1\ncrack,2.1,1\ncrack,2.2,1\ncrack,2.3,1\ncrack,2.4,1\n";
    for (int off = 0; off < 2; off++) {
        struct done d = { .settings = tc_settings_default() };
        struct tc_problem why = { "" };
        char events[300];
        scratch_make(d.folder, sizeof d.folder);
        snprintf(events, sizeof events, "%s/crowd.csv", d.folder);
        FILE *out = fopen(events, "w");
        fputs(crowd, out);
        fclose(out);
        if (off) d.settings.flash_limit = 0;
        assert_int_equal(tc_rig_builtin(&d.rig), TC_OK);
        struct job job = { .events = events, .out_dir = d.folder, .stem = "storm", .preview = true };
        if (recording_run(&job, &d.rig, &d.settings, &d.outcome, &why) != TC_OK) fail_msg("%s", why.text);
        assert_int_equal(d.outcome.cracks, 5);
        if (off) assert_int_equal(d.outcome.cracks_held_back, 0);
        else assert_true(d.outcome.cracks_held_back >= 2 && d.outcome.cracks_held_back < 5);
        assert_int_equal(d.outcome.strokes, 5 - d.outcome.cracks_held_back);
        char *page = scratch_read(d.outcome.paths[RUN_PAGE], NULL);
        assert_non_null(page);
        const char *dimmed = strstr(page, "\"dimmed\":[");
        assert_non_null(dimmed);
        size_t marked = 0;
        for (const char *c = dimmed; *c && *c != ']'; c++)
            marked += *c >= '0' && *c <= '9' && !strchr("0123456789.", c[-1]);
        assert_int_equal(marked, d.outcome.cracks_held_back);
        free(page);
        undo(&d);
    }
}

/* Hand control survives being written out again. */
static void what_is_forced_by_hand_reads_back(void **state)
{
    (void)state;
    static const char edited[] = "kind,start_s,strokes,path\ncrack,2.5,3,1 2 4\ncrack,5,,\n";
    struct done a = { .settings = tc_settings_default() }, b = a;
    char folder[256], events[300];
    scratch_make(folder, sizeof folder);
    snprintf(events, sizeof events, "%s/edited.csv", folder);
    FILE *out = fopen(events, "w");
    fputs(edited, out);
    fclose(out);
    do_cue(&a, sample, events);
    do_cue(&b, sample, a.outcome.paths[RUN_EVENTS]);
    compare_outputs(&a, &b, true);
    undo(&a);
    undo(&b);
    scratch_remove(folder);
}

static void events_that_do_not_fit_are_told(void **state)
{
    (void)state;
    static const struct { const char *rows; enum tc_status status; const char *says; } rows[] = {
        { "crack,5,\ncrack,33.1,\ncrack,900000,\n", TC_OK, "2 events lie after the end of the recording at 33.000 s and are left out" },
        { "crack,5,1 2\ncrack,6,1 99\n", TC_ERR_FORM, "the crack at 6.000 s: path: channel 99 is not in the rig" },
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        struct tc_rig rig;
        struct tc_settings s = tc_settings_default();
        struct outcome outcome = { 0 };
        struct tc_problem why = { "" };
        char folder[256], events[300];
        scratch_make(folder, sizeof folder);
        snprintf(events, sizeof events, "%s/edited.csv", folder);
        FILE *out = fopen(events, "w");
        fprintf(out, "kind,start_s,path\n%s", rows[i].rows);
        fclose(out);
        assert_int_equal(tc_rig_builtin(&rig), TC_OK);
        struct job job = { .recording = sample, .events = events, .out_dir = folder, .stem = "storm" };
        assert_int_equal(recording_run(&job, &rig, &s, &outcome, &why), rows[i].status);
        const char *text = rows[i].status == TC_OK ? outcome.remark.text : why.text;
        if (!strstr(text, rows[i].says)) fail_msg("'%s' does not say '%s'", text, rows[i].says);
        outcome_clear(&outcome);
        tc_rig_clear(&rig);
        scratch_remove(folder);
    }
}

static void events_alone_make_a_timeline(void **state)
{
    (void)state;
    struct done a = { .settings = tc_settings_default() }, b = a;
    do_cue(&a, sample, NULL);
    do_cue(&b, NULL, a.outcome.paths[RUN_EVENTS]);
    assert_int_equal(b.outcome.cracks, a.outcome.cracks);
    assert_int_equal(b.outcome.rumbles, a.outcome.rumbles);
    struct table frames = read_table(b.outcome.paths[RUN_FRAMES]);
    check_flashes(&b, &frames);
    table_free(&frames);
    undo(&a);
    undo(&b);
}

static void only_the_chosen_part_is_lit_and_shifted(void **state)
{
    (void)state;
    struct done whole = { .settings = tc_settings_default() }, part = whole;
    part.settings.from_s = 8;
    part.settings.to_s = 14;
    part.settings.shift_s = 100;
    do_cue(&whole, sample, NULL);
    do_cue(&part, sample, NULL);
    assert_int_equal(part.outcome.frames, whole.outcome.frames);
    struct table frames = read_table(part.outcome.paths[RUN_FRAMES]);
    for (size_t f = 0; f < frames.rows; f++)
        if (at(&frames, f, 0) < 108 - 0.026 || at(&frames, f, 0) > 114 + 4) assert_near(summed(&frames, f), 0, 0);
    assert_near(at(&frames, 0, 0), 100, 0.0001);
    /* All moments that the report names are those of the files. */
    assert_true(part.outcome.flash.peak_transitions > 0);
    const int64_t moments[] = { part.outcome.brightest_at_ms, part.outcome.flash.peak_at_ms,
                                part.outcome.load.rig.reached_at_ms };
    for (size_t i = 0; i < COUNT(moments); i++) assert_true(moments[i] >= 107000 && moments[i] <= 119000);
    table_free(&frames);
    undo(&whole);
    undo(&part);
}

static void existing_outputs_are_refused_by_name(void **state)
{
    (void)state;
    struct done d = { .settings = tc_settings_default() };
    do_cue(&d, sample, NULL);
    struct outcome again = { 0 };
    struct tc_problem why = { "" };
    struct job job = { .recording = sample, .out_dir = d.folder, .stem = "storm" };
    assert_int_equal(recording_run(&job, &d.rig, &d.settings, &again, &why), TC_ERR_EXISTS);
    assert_non_null(strstr(why.text, "storm.events.csv: exists already"));
    outcome_clear(&again);
    job.over = OVER_OURS;
    assert_int_equal(recording_run(&job, &d.rig, &d.settings, &again, &why), TC_OK);
    outcome_clear(&again);
    undo(&d);
}

/* The kind of sound in a page's data: "embedded", "file" or "none", and its type. */
static void sound_of(const char *page, char *kind, char *type)
{
    char *text = scratch_read(page, NULL);
    const char *sound = strstr(text, "\"sound\":{\"kind\":\"");
    assert_non_null(sound);
    assert_int_equal(sscanf(sound, "\"sound\":{\"kind\":\"%31[^\"]\",\"type\":\"%31[^\"]", kind, type) >= 1, 1);
    free(text);
}

/* One pass: what comes through a pipe can be heard only once, and has its
 * sound in the page all the same, the very bytes that a file has. */
static void standard_input_has_its_sound_in_the_page(void **state)
{
    (void)state;
    struct tc_rig rig;
    struct tc_settings s = tc_settings_default();
    struct tc_problem why = { "" };
    char folder[256], kind[32] = "", type[32] = "";
    size_t sizes[2];
    char *pages[2];
    scratch_make(folder, sizeof folder);
    assert_int_equal(tc_rig_builtin(&rig), TC_OK);
    int saved = dup(STDIN_FILENO);
    for (int piped = 0; piped < 2; piped++) {
        struct outcome outcome = { 0 };
        struct job job = { .recording = piped ? "-" : sample, .stem = "storm", .out_dir = folder, .preview = true,
                           .over = OVER_OURS };
        assert_non_null(freopen(sample, "rb", stdin));
        if (recording_run(&job, &rig, &s, &outcome, &why) != TC_OK) fail_msg("%s", why.text);
        sound_of(outcome.paths[RUN_PAGE], kind, type);
        assert_string_equal(kind, "embedded");
        assert_string_equal(type, "audio/flac");
        pages[piped] = scratch_read(outcome.paths[RUN_PAGE], &sizes[piped]);
        outcome_clear(&outcome);
    }
    dup2(saved, STDIN_FILENO);
    close(saved);
    char *sound = strstr(pages[0], "\nZkxhQ"); /* "fLaC" in base64 (RFC 4648) */
    assert_non_null(sound);
    sound[2000] = 0;
    assert_non_null(strstr(pages[1], sound));
    free(pages[0]);
    free(pages[1]);
    tc_rig_clear(&rig);
    scratch_remove(folder);
}

/* ---- One show ---- */

/* What the library makes by itself and what the program writes are the same
 * show, to the last digit: the rigs of the samples, seeds, loop or not. */
static void the_library_makes_the_programs_show(void **state)
{
    (void)state;
    static const char *const rigs[] = { "samples/mill-pond.rig", "samples/backyard.rig", "samples/three-bolts.rig" };
    FILE *there = fopen(sample, "r");
    if (!there) {
        print_message("skipped: not run from the checkout's top folder\n");
        skip();
    }
    fclose(there);
    struct tc_settings s = tc_settings_default();
    struct tc_analysis heard = { 0 };
    struct tc_problem why = { "" };
    size_t shows = 0, levels_compared = 0;
    assert_int_equal(listen_file(sample, &s, &heard, NULL, &why), TC_OK);
    for (size_t i = 0; i < 3 * 5 * 2; i++, shows++) {
        struct done d = { .settings = s };
        d.settings.seed = (int64_t)(i / 3 % 5) + 1;
        d.settings.loop = i / 15;
        if (read_rig(rigs[i % 3], &d.rig, &why) != TC_OK) fail_msg("%s", why.text);
        scratch_make(d.folder, sizeof d.folder);
        struct job job = { .recording = sample, .out_dir = d.folder, .stem = "storm" };
        if (recording_run(&job, &d.rig, &d.settings, &d.outcome, &why) != TC_OK) fail_msg("%s", why.text);
        struct table frames = read_table(d.outcome.paths[RUN_FRAMES]);

        struct tc_timeline plan;
        struct tc_player *player;
        uint16_t levels[TC_MAX_CHANNELS];
        assert_int_equal(tc_cue(&heard, &d.rig, &d.settings, NULL, &plan, &why), TC_OK);
        assert_int_equal(plan.stroke_count, d.outcome.strokes + d.outcome.cracks_held_back);
        assert_int_equal(plan.dropped, d.outcome.dropped);
        assert_int_equal(tc_player_create(&player, &plan, &d.rig, &d.settings, NULL), TC_OK);
        size_t f = 0;
        for (; tc_player_step(player, levels); f++)
            for (size_t c = 0; c < d.rig.channel_count; c++, levels_compared++)
                assert_int_equal(levels[c], (int)(10 * at(&frames, f, c + 1) + 0.5));
        assert_int_equal(f, frames.rows);
        tc_player_destroy(player);
        tc_timeline_clear(&plan);
        table_free(&frames);
        undo(&d);
    }
    tc_analysis_clear(&heard);
    print_message("    %zu shows, %zu levels\n", shows, levels_compared);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_library_makes_the_programs_show),
        cmocka_unit_test(the_sample_keeps_every_promise),
        cmocka_unit_test(real_recordings_keep_every_promise),
        cmocka_unit_test(the_same_input_and_seed_give_the_same_bytes),
        cmocka_unit_test(cueing_from_the_events_file_gives_the_same_bytes),
        cmocka_unit_test(an_edited_events_file_stays_as_it_is),
        cmocka_unit_test(dark_cracks_are_no_strokes),
        cmocka_unit_test(what_is_forced_by_hand_reads_back),
        cmocka_unit_test(events_that_do_not_fit_are_told),
        cmocka_unit_test(events_alone_make_a_timeline),
        cmocka_unit_test(only_the_chosen_part_is_lit_and_shifted),
        cmocka_unit_test(existing_outputs_are_refused_by_name),
        cmocka_unit_test(standard_input_has_its_sound_in_the_page),
    };
    return cmocka_run_group_tests_name("recording", tests, NULL, NULL);
}
