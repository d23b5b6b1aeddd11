/* The audit of timelines in the form of frames.csv: what is wrong is named by
 * line and column, what is right passes. Flash rule: WCAG 2.2, SC 2.3.1. */
#include "check.h"

#include <stdio.h>

#include "light/audit.h"
#include "light/audit_columns.h"

/* Runs the audit over all of a stream. */
static enum tc_status audit_stream(const struct audit_job *job, FILE *in, struct audit *out, struct tc_problem *why)
{
    fseek(in, 0, SEEK_END);
    size_t size = (size_t)ftell(in);
    char *text = calloc(1, size + 1);
    assert_non_null(text);
    rewind(in);
    assert_int_equal(fread(text, 1, size, in), size);
    enum tc_status status = audit_run(job, text, size, out, why);
    free(text);
    return status;
}

/* Runs the audit over text. The caller clears. */
static struct audit audit_text(const char *text, struct audit_job job)
{
    struct audit a;
    struct tc_problem why = { "" };
    job.name = "text";
    assert_int_equal(audit_run(&job, text, strlen(text), &a, &why), TC_OK);
    return a;
}

static size_t all_remarks(const struct audit *a)
{
    size_t n = 0;
    for (int t = 0; t < AUDIT_TOPICS; t++) n += a->counts[t];
    return n;
}

/* A timeline of one lamp at 40 a second from a string of '0' and '1'. */
static FILE *blinking(const char *pattern, size_t repeat)
{
    FILE *f = tmpfile();
    assert_non_null(f);
    fputs("time_s,lamp\r\n", f);
    size_t row = 0;
    for (size_t k = 0; k < repeat; k++)
        for (const char *p = pattern; *p; p++, row++)
            fprintf(f, "%.3f,%s\r\n", (double)row * 0.025, *p == '1' ? "100.0" : "0.0");
    rewind(f);
    return f;
}

/* ---- Form ---- */

struct form_row {
    const char *name, *text;
    enum audit_topic topic;
    long line;
    size_t column;
    const char *says;
};

static const struct form_row form_rows[] = {
    { "nothing", "", AUDIT_FORM, 1, 0, "empty" },
    { "no rows", "time_s,a\n", AUDIT_FORM, 0, 0, "no row" },
    { "no levels", "time_s\n0.0\n", AUDIT_FORM, 1, 0, "0 columns" },
    { "wrong heading", "seconds,a\n0.000,0.0\n", AUDIT_FORM, 1, 1, "time_s" },
    { "a word for a level", "time_s,a,b\n0.000,0.0,0.0\n0.025,0.0,dark\n", AUDIT_FORM, 3, 3, "'dark' is not a number" },
    { "an empty cell", "time_s,a,b\n0.000,,0.0\n", AUDIT_FORM, 2, 2, "''" },
    { "a comma by the thousand", "time_s,a\n0.000,0.0\n\"1,000.025\",0.0\n", AUDIT_FORM, 3, 1, "not a time" },
    { "a short row", "time_s,a,b\n0.000,0.0,0.0\n0.025,0.0\n", AUDIT_FORM, 3, 0, "2 cells where the header row has 3" },
    { "a long row", "time_s,a\n0.000,0.0,0.0\n", AUDIT_FORM, 2, 0, "3 cells" },
    { "an open quote", "time_s,a\n0.000,\"0.0\n", AUDIT_FORM, 2, 0, "quote" },
    { "not a number that C would take", "time_s,a\n0.000,0x10\n", AUDIT_FORM, 2, 2, "'0x10'" },
    { "infinity", "time_s,a\n0.000,inf\n", AUDIT_FORM, 2, 2, "'inf'" },
    { "below zero", "time_s,a\n0.000,-0.5\n0.025,0.0\n", AUDIT_RANGE, 2, 2, "outside 0 to 100" },
    { "above 100 percent", "time_s,a\n0.000,100.5\n0.025,0.0\n", AUDIT_RANGE, 2, 2, "outside 0 to 100" },
    { "time stands still", "time_s,a\n0.000,0.0\n0.000,0.0\n", AUDIT_TIME, 3, 1, "not after" },
    { "time goes back", "time_s,a\n0.000,0.0\n0.025,0.0\n0.020,0.0\n", AUDIT_TIME, 4, 1, "not after" },
    { "a row is missing", "time_s,a\n0.000,0.0\n0.025,0.0\n0.075,0.0\n", AUDIT_TIME, 4, 1, "50 ms" },
    { "time below zero", "time_s,a\n-1,0.0\n", AUDIT_FORM, 2, 1, "not a time" },
};

static void what_is_wrong_is_named_by_line_and_column(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT(form_rows); i++) {
        const struct form_row *row = &form_rows[i];
        struct audit a = audit_text(row->text, (struct audit_job){ .limit = 3 });
        const struct audit_remark *m = &a.remarks[row->topic][0];
        if (!a.counts[row->topic]) fail_msg("%s: passed", row->name);
        if (row->line && m->line != row->line) fail_msg("%s: line %ld", row->name, m->line);
        if (m->column != row->column) fail_msg("%s: column %zu", row->name, m->column);
        if (!strstr(m->text, row->says)) fail_msg("%s: says '%s'", row->name, m->text);
        assert_true(audit_findings(&a));
        audit_clear(&a);
    }
}

static void a_good_timeline_passes(void **state)
{
    (void)state;
    static const char *const good[] = {
        "time_s,a,b\r\n0.000,0.0,0.0\r\n0.025,100.0,12.5\r\n0.050,0.0,0.0\r\n",
        "time_s,a,b\n0.000,0,0\n0.025,255,12\n0.050,0,0\n",
        "time_s,a,b\n\"0,000\",\"0,0\",0\n\"0,025\",\"99,5\",12\n\"0,050\",0,0\n",
        "\xEF\xBB\xBFtime_s,\"a \"\"x\"\", y\",b\n5.000,0.0,0.0\n5.040,0.0,0.0\n",
        /* 120 a second: steps of 8 and 9 ms come from rounding */
        "time_s,a\n0.000,0.0\n0.008,0.0\n0.017,0.0\n0.025,0.0\n0.033,0.0\n0.042,0.0\n",
    };
    for (size_t i = 0; i < COUNT(good); i++) {
        struct audit a = audit_text(good[i], (struct audit_job){ .limit = 3 });
        if (all_remarks(&a)) fail_msg("%zu: %s", i, a.remarks[AUDIT_FORM][0].text);
        assert_false(audit_findings(&a));
        audit_clear(&a);
    }
}

static void many_faults_are_all_counted(void **state)
{
    (void)state;
    FILE *in = tmpfile();
    struct audit a;
    struct tc_problem why;
    assert_non_null(in);
    fputs("time_s,a\n", in);
    for (int i = 0; i < 1000; i++) fprintf(in, "%.3f,bad\n", i * 0.025);
    rewind(in);
    struct audit_job job = { .name = "text", .limit = 3 };
    assert_int_equal(audit_stream(&job, in, &a, &why), TC_OK);
    fclose(in);
    assert_int_equal(a.counts[AUDIT_FORM], 1000);
    audit_clear(&a);
}

/* ---- Units ---- */

static void the_unit_is_guessed_or_given(void **state)
{
    (void)state;
    static const struct { const char *text; enum audit_unit given, found; size_t range; } rows[] = {
        { "time_s,a\n0.000,0\n0.025,255\n0.050,0\n", AUDIT_GUESS, AUDIT_8BIT, 0 },
        { "time_s,a\n0.000,0\n0.025,100\n0.050,0\n", AUDIT_GUESS, AUDIT_PERCENT, 0 },
        { "time_s,a\n0.000,0\n0.025,1\n0.050,0\n", AUDIT_GUESS, AUDIT_UNIT, 0 },
        { "time_s,a\n0.000,0.0\n0.025,0.85\n0.050,0.0\n", AUDIT_GUESS, AUDIT_UNIT, 0 },
        { "time_s,a\n0.000,0.0\n0.025,0.85\n0.050,1.5\n", AUDIT_GUESS, AUDIT_PERCENT, 0 },
        { "time_s,a\n0.000,0.0\n0.025,0.85\n0.050,0.0\n", AUDIT_PERCENT, AUDIT_PERCENT, 0 },
        { "time_s,a\n0.000,0.0\n0.025,1.01\n0.050,0.0\n", AUDIT_UNIT, AUDIT_UNIT, 1 },
        { "time_s,a\n0.000,0.0\n0.025,0.0\n", AUDIT_GUESS, AUDIT_PERCENT, 0 },
        { "time_s;a\n0,000;0\n0,025;12,5\n0,050;0\n", AUDIT_GUESS, AUDIT_PERCENT, 0 },
        { "time_s,a\n0.000,0\n0.025,12.5\n0.050,0\n", AUDIT_GUESS, AUDIT_PERCENT, 0 },
        { "time_s,a\n0.000,0\n0.025,255\n0.050,0\n", AUDIT_PERCENT, AUDIT_PERCENT, 1 },
        { "time_s,a\n0.000,0\n0.025,12.5\n0.050,0\n", AUDIT_8BIT, AUDIT_8BIT, 1 },
        { "time_s,a\n0.000,0\n0.025,256\n0.050,0\n", AUDIT_8BIT, AUDIT_8BIT, 1 },
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        struct audit a = audit_text(rows[i].text, (struct audit_job){ .limit = 3, .unit = rows[i].given });
        assert_int_equal(a.unit, rows[i].found);
        assert_int_equal(a.counts[AUDIT_RANGE], rows[i].range);
        audit_clear(&a);
    }
}

/* 20 flashes a second, written 0..1: nobody's percent. */
static void a_strobe_from_0_to_1_does_not_pass(void **state)
{
    (void)state;
    static const char *const levels[] = { "1", "1.0", "0.9" };
    for (size_t l = 0; l < COUNT(levels); l++) {
        char text[4000], *end = text;
        end += sprintf(end, "time_s,lamp\n");
        for (int row = 0; row < 81; row++)
            end += sprintf(end, "%d.%03d,%s\n", row * 25 / 1000, row * 25 % 1000, row % 2 ? levels[l] : "0");
        struct audit a = audit_text(text, (struct audit_job){ .limit = 3 });
        assert_int_equal(a.unit, AUDIT_UNIT);
        assert_true(audit_flashes_too_fast(&a));
        assert_true(a.flash.peak_transitions >= 39);
        audit_clear(&a);
    }
}

/* ---- Other forms ---- */

static void another_table_is_named_in_one_line(void **state)
{
    (void)state;
    static const struct { const char *text, *says; } rows[] = {
        { "channel,name,start_s,end_s,start_level,end_level\n1,a,0.0,1.0,0.0,1.0\n1,a,2.0,3.0,0.0,1.0\n", "this is a ramps file" },
        { "kind,start_s\ncrack,1\n", "this is an events or label file" },
        { "kind;start_s\ncrack;1\n", "this is an events or label file" },
        { "lamp,moon,tide\n1,2,3\n", "this is an almanac" },
    };
    static const struct audit_table others[] = { { "sun", "moon", "a sky" }, { "tide", "moon", "an almanac" }, { 0 } };
    for (size_t i = 0; i < COUNT(rows); i++) {
        struct audit a = audit_text(rows[i].text, (struct audit_job){ .limit = 3, .others = others });
        assert_int_equal(all_remarks(&a), 1);
        assert_non_null(strstr(a.remarks[AUDIT_FORM][0].text, rows[i].says));
        assert_true(audit_findings(&a));
        audit_clear(&a);
    }
}

static void a_timeline_from_a_spreadsheet_passes(void **state)
{
    (void)state;
    static const char *const good[] = {
        "time_s;a;b\r\n0,000;0,0;0,0\r\n0,025;99,5;0,0\r\n0,050;0,0;0,0\r\n;;\r\n;;\r\n",
        "sep=;\r\ntime_s;a;b\r\n0,000;0,0;0,0\r\n0,025;99,5;0,0\r\n0,050;0,0;0,0\r\n",
        "time_s\ta\tb\r0.000\t0.0\t0.0\r0.025\t99.5\t0.0\r0.050\t0.0\t0.0\r",
        "a,time_s,b\n0.0,0.000,0.0\n99.5,0.025,0.0\n0.0,0.050,0.0\n",
    };
    for (size_t i = 0; i < COUNT(good); i++) {
        struct audit a = audit_text(good[i], (struct audit_job){ .limit = 3 });
        if (all_remarks(&a)) fail_msg("%zu: %s", i, a.remarks[AUDIT_FORM][0].text);
        assert_int_equal(a.rows, 3);
        assert_int_equal(a.levels_count, 2);
        assert_true(a.lit[0] && !a.lit[1]);
        assert_int_equal(a.flash.peak_transitions, 2);
        assert_false(audit_findings(&a));
        audit_clear(&a);
    }
}

/* ---- The rig ---- */

struct small {
    struct tc_channel channels[3];
    struct tc_circuit circuit;
    struct tc_rig rig;
};

static const struct tc_rig *small_rig(struct small *s)
{
    static const char *const names[] = { "trunk", "fork", "=flood" };
    memset(s, 0, sizeof *s);
    for (int i = 0; i < 3; i++) {
        s->channels[i] = (struct tc_channel){ .number = i + 1, .kind = i == 2 ? TC_FLOOD : TC_BRANCH, .parent = -1,
                                              .group = -1, .watts = 100, .max_level = 100 };
        strcpy(s->channels[i].name, names[i]);
    }
    s->circuit = (struct tc_circuit){ .name = "left", .breaker_amps = 15, .volts = 120 };
    s->rig = (struct tc_rig){ .channels = s->channels, .channel_count = 3, .circuits = &s->circuit,
                              .circuit_count = 1, .mains_volts = 120 };
    return &s->rig;
}

static void columns_are_matched_by_name(void **state)
{
    (void)state;
    static const struct { const char *text; size_t remarks; const char *says; } rows[] = {
        { "time_s,trunk,fork,'=flood\n0.000,0.0,0.0,0.0\n", 0, NULL },
        { "time_s,trunk,fork\n0.000,0.0,0.0\n", 1, "no column for channel 3" },
        { "time_s,trunk,fork,=flood,pond\n0.000,0.0,0.0,0.0,0.0\n", 1, "\"pond\" is no channel" },
        { "time_s,fork,trunk,=flood\n0.000,0.0,0.0,0.0\n", 2, "out of its order" },
        { "time_s,trunk,trunk,=flood\n0.000,0.0,0.0,0.0\n", 2, "twice" },
        { "time_s,1 trunk,2 fork,3 =flood,4,5\n0.000,0.0,0.0,0.0,0.0,0.0\n", 0, NULL },
        { "time_s,1 trunk,2 fork,3 =flood,4,5\n0.000,0.0,0.0,0.0,0.0,7.0\n", 1, "an output that has no channel" },
        { "time_s,1 trunk,2 fork,3 pond,4,5\n0.000,0.0,0.0,0.0,0.0,0.0\n", 2, "\"3 pond\" is no channel" },
    };
    struct small s;
    for (size_t i = 0; i < COUNT(rows); i++) {
        struct audit a = audit_text(rows[i].text, (struct audit_job){ .rig = small_rig(&s), .limit = 3 });
        assert_int_equal(a.counts[AUDIT_RIG], rows[i].remarks);
        if (rows[i].says) assert_non_null(strstr(a.remarks[AUDIT_RIG][0].text, rows[i].says));
        audit_clear(&a);
    }
}

static void levels_above_the_channels_top_are_named(void **state)
{
    (void)state;
    struct small s;
    small_rig(&s);
    s.channels[1].max_level = 80;
    struct audit_job job = { .rig = &s.rig, .limit = 3 };
    struct audit a = audit_text("time_s,trunk,fork,=flood\n0.000,100.0,80.0,100.0\n0.025,0.0,0.0,0.0\n", job);
    assert_int_equal(all_remarks(&a), 0);
    audit_clear(&a);
    a = audit_text("time_s,trunk,fork,=flood\n0.000,100.0,80.1,100.0\n0.025,0.0,0.0,0.0\n", job);
    assert_int_equal(a.counts[AUDIT_RANGE], 1);
    assert_int_equal(a.remarks[AUDIT_RANGE][0].column, 3);
    audit_clear(&a);
}

/* 15 A at 120 V: 1440 W is 80 % of the breaker (NEC 210.20(A)). */
static void load_is_summed_and_judged(void **state)
{
    (void)state;
    static const char text[] = "time_s,trunk,fork,=flood\n0.000,0.0,0.0,0.0\n0.025,100.0,50.0,0.0\n0.050,0.0,0.0,0.0\n";
    struct small s;
    small_rig(&s);
    for (int i = 0; i < 3; i++) s.channels[i].watts = 480;
    struct audit_job job = { .rig = &s.rig, .limit = 3 };
    struct audit a = audit_text(text, job);
    assert_near(a.load.rig.all_on_w, 1440, 1e-9);
    assert_near(a.load.circuits[0].reached_w, 720, 1e-9);
    assert_int_equal(a.load.circuits[0].reached_at_ms, 25);
    assert_int_equal(a.never_lit, 1);
    assert_false(a.lit[2]);
    assert_false(audit_findings(&a)); /* a channel without use is a caution */
    audit_clear(&a);

    s.channels[0].watts = 481;
    a = audit_text(text, job);
    assert_true(audit_findings(&a));
    audit_clear(&a);

    s.channels[0].watts = 130;
    s.channels[0].max_amps = 1; /* 120 W at 120 V */
    a = audit_text(text, job);
    assert_true(audit_channel_over(&a, 0));
    assert_false(audit_channel_over(&a, 1));
    assert_true(audit_findings(&a));
    audit_clear(&a);
}

static void without_a_rig_every_column_counts_alike(void **state)
{
    (void)state;
    struct small s;
    struct audit_job job = { .perhaps = small_rig(&s), .limit = 3 };
    struct audit a = audit_text("time_s,trunk,fork,=flood\n0.000,0.0,0.0,0.0\n", job);
    assert_false(a.own_rig);
    audit_clear(&a);
    a = audit_text("time_s,one,two,three\n0.000,0.0,0.0,0.0\n", job);
    assert_true(a.own_rig);
    assert_int_equal(all_remarks(&a), 0);
    assert_string_equal(a.rig.channels[2].name, "three");
    audit_clear(&a);
}

/* ---- Flashes ---- */

static struct audit audit_blinking(const char *pattern, size_t repeat, bool loop)
{
    struct audit a;
    struct tc_problem why;
    struct audit_job job = { .name = "text", .limit = 3, .loop = loop };
    FILE *in = blinking(pattern, repeat);
    assert_int_equal(audit_stream(&job, in, &a, &why), TC_OK);
    fclose(in);
    return a;
}

static void flashes_are_counted(void **state)
{
    (void)state;
    struct audit a = audit_blinking("0100000000000", 6, false); /* one in 325 ms */
    assert_int_equal(a.flash.peak_transitions, 7);
    assert_true(audit_flashes_too_fast(&a));
    assert_true(a.at_peak[0]);
    audit_clear(&a);
    a = audit_blinking("010000000000000", 6, false); /* one in 375 ms */
    assert_int_equal(a.flash.peak_transitions, 6);
    assert_false(audit_findings(&a));
    audit_clear(&a);
}

static void a_lit_end_is_found(void **state)
{
    (void)state;
    struct audit a = audit_blinking("0001", 1, false);
    assert_false(a.ends_dark);
    assert_true(audit_findings(&a));
    audit_clear(&a);
}

/* Two flashes at the beginning, two at the end: fine once, four in a second
 * when it repeats. A short one with a single flash repeats too fast as well. */
static void the_seam_of_a_loop_counts(void **state)
{
    (void)state;
    static const char ends[] = "0100100000000000000000000000000000000000000000000000000000000010010";
    struct audit a = audit_blinking(ends, 1, false);
    assert_int_equal(a.flash.peak_transitions, 4);
    audit_clear(&a);
    a = audit_blinking(ends, 1, true);
    assert_int_equal(a.flash.peak_transitions, 8);
    audit_clear(&a);
    a = audit_blinking("0100000", 1, false); /* 175 ms */
    assert_int_equal(a.flash.peak_transitions, 2);
    audit_clear(&a);
    a = audit_blinking("0100000", 1, true);
    assert_true(a.flash.peak_transitions >= 11 && a.flash.peak_transitions <= 12);
    audit_clear(&a);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_is_wrong_is_named_by_line_and_column),
        cmocka_unit_test(a_good_timeline_passes),
        cmocka_unit_test(many_faults_are_all_counted),
        cmocka_unit_test(the_unit_is_guessed_or_given),
        cmocka_unit_test(a_strobe_from_0_to_1_does_not_pass),
        cmocka_unit_test(another_table_is_named_in_one_line),
        cmocka_unit_test(a_timeline_from_a_spreadsheet_passes),
        cmocka_unit_test(columns_are_matched_by_name),
        cmocka_unit_test(levels_above_the_channels_top_are_named),
        cmocka_unit_test(load_is_summed_and_judged),
        cmocka_unit_test(without_a_rig_every_column_counts_alike),
        cmocka_unit_test(flashes_are_counted),
        cmocka_unit_test(a_lit_end_is_found),
        cmocka_unit_test(the_seam_of_a_loop_counts),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
