/* Label and event files: the documented forms, and what is wrong with others. */
#include "check.h"

#include <stdio.h>
#include <time.h>

#include "marks/events_text.h"

static enum tc_status read_text(const char *text, struct marks *m, struct tc_problem *why)
{
    return marks_read(text, strlen(text), "mill.csv", m, why);
}

/* ---- A C library whose sort isn't stable (the linker's --wrap) ---- */

static bool turn_round;

void __real_qsort(void *list, size_t count, size_t each, int (*compare)(const void *, const void *));
void __wrap_qsort(void *list, size_t count, size_t each, int (*compare)(const void *, const void *));

/* Turned round before it is sorted: what compares as equal comes out the other way about. */
void __wrap_qsort(void *list, size_t count, size_t each, int (*compare)(const void *, const void *))
{
    char *low = list, *high = low + count * each;
    while (turn_round && count > 1 && low < (high -= each)) {
        for (size_t i = 0; i < each; i++) {
            char kept = low[i];
            low[i] = high[i];
            high[i] = kept;
        }
        low += each;
    }
    __real_qsort(list, count, each, compare);
}

/* ---- Reading ---- */

static void a_label_file_reads_sorted_by_start(void **state)
{
    (void)state;
    struct marks m;
    struct tc_problem why = { "" };
    assert_int_equal(read_text("kind,start_s,end_s,weight\n"
                               "rumble,0.100,4.850,\n"
                               "crack,1.225,,3\n"
                               "crack,0.080,,1\n", &m, &why), TC_OK);
    assert_int_equal(m.count, 3);
    assert_int_equal(m.labels[0].event.start_ms, 80);
    assert_int_equal(m.labels[0].weight, 1);
    assert_int_equal(m.labels[1].event.kind, TC_RUMBLE);
    assert_int_equal(m.labels[1].event.end_ms, 4850);
    assert_int_equal(m.labels[1].weight, 0);
    assert_int_equal(m.labels[2].event.start_ms, 1225);
    assert_int_equal(m.labels[2].event.end_ms, 1225);
    assert_int_equal(m.labels[2].weight, 3);
    marks_clear(&m);
}

/* RFC 4180: CR LF or LF, quoted cells; a byte order mark as spreadsheets write it. */
static void the_same_rows_in_other_clothes_read_the_same(void **state)
{
    (void)state;
    static const char *const forms[] = {
        "kind,start_s\ncrack,1.5\n",
        "kind,start_s\r\ncrack,1.5\r\n",
        "kind,start_s\ncrack,1.5",
        "\xef\xbb\xbfkind,start_s\ncrack,1.5\n",
        "\"kind\",\"start_s\"\n\"crack\",\"1.5\"\n",
        "start_s,note,kind\n1.5,\"near, loud\",crack\n",
        "Kind,Start_S\nCRACK,1.500\n\n",
        "kind;start_s\ncrack;1,5\n",
        "kind,start_s,end_s,weight\ncrack,\"1,5\",,2\n",
        "kind;start_s\ncrack;1.5\n;\n;\n",
        "kind\tstart_s\ncrack\t1,5\n",
        "sep=;\r\nkind;start_s;note\r\ncrack;1,5;a, b\r\n",
        "\xef\xbb\xbfsep=;\rkind;start_s\rcrack;1,5\r",
        "kind,start_s\rcrack,1.5\r",
        "start_s, kind\n 1.5, crack\n",
        "kind,start_s,end_s,peak_s,strength,sharpness,level_dbfs\ncrack,1.500,1.500,1.500,1.00,1.00,0.0\n",
    };
    for (size_t i = 0; i < COUNT(forms); i++) {
        struct marks m;
        struct tc_problem why = { "" };
        if (read_text(forms[i], &m, &why) != TC_OK) fail_msg("form %zu: %s", i, why.text);
        assert_int_equal(m.count, 1);
        assert_int_equal(m.labels[0].event.kind, TC_CRACK);
        assert_int_equal(m.labels[0].event.start_ms, 1500);
        assert_int_equal(m.labels[0].event.peak_ms, 1500);
        marks_clear(&m);
    }
}

static void wrong_files_name_line_and_cell(void **state)
{
    (void)state;
    static const struct {
        const char *text, *says;
    } rows[] = {
        { "", "is empty" },
        { "crack,1.5\n", ":1: the first row must name the columns" },
        { "kind,start_s\nbang,1.5\n", ":2: kind 'bang' is not crack or rumble" },
        { "kind,start_s\ncrack,soon\n", ":2: start_s 'soon' is not a number" },
        { "kind,start_s\ncrack,-1\n", ":2: start_s '-1' is not a number from 0" },
        { "kind,start_s\ncrack,nan\n", ":2: start_s 'nan'" },
        { "kind,start_s\ncrack,\n", ":2: start_s '' is not a time" },
        { "kind,start_s,end_s\nrumble,5,4\n", ":2: end_s '4' is not at or after start_s" },
        { "kind,start_s,end_s\nrumble,5,\n", ":2: end_s '' is not a time" },
        { "kind,start_s,weight\ncrack,5,\ncrack,5,4\n", ":3: weight '4' is not a whole number from 1 to 3" },
        { "kind,start_s,weight\ncrack,5,2.5\n", ":2: weight '2.5' is not a whole number from 1 to 3" },
        { "kind,start_s,strokes\ncrack,5,1.9\n", ":2: strokes '1.9' is not a whole number from 1 to 20" },
        { "kind,start_s,strokes\ncrack,5,21\n", ":2: strokes '21' is not a whole number from 1 to 20" },
        { "kind,start_s\n\"crack,1\n", ":2: " },
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        struct marks m;
        struct tc_problem why = { "" };
        assert_int_equal(read_text(rows[i].text, &m, &why), TC_ERR_FORM);
        assert_null(m.labels);
        if (!strstr(why.text, rows[i].says)) fail_msg("'%s' does not say '%s'", why.text, rows[i].says);
    }
}

static void a_moved_crack_takes_its_end_and_peak_along(void **state)
{
    (void)state;
    struct marks m;
    struct tc_problem why = { "" };
    assert_int_equal(read_text("kind,start_s,end_s,peak_s\ncrack,2.5,1.000,1.000\ncrack,0.5,1.000,1.000\n"
                               "rumble,3.0,5.0,2.0\nrumble,4.0,5.0,6.0\n", &m, &why), TC_OK);
    assert_int_equal(m.labels[0].event.start_ms, 500);
    assert_int_equal(m.labels[0].event.end_ms, 500);
    assert_int_equal(m.labels[0].event.peak_ms, 500);
    assert_int_equal(m.labels[1].event.start_ms, 2500);
    assert_int_equal(m.labels[1].event.end_ms, 2500);
    assert_int_equal(m.labels[1].event.peak_ms, 2500);
    assert_int_equal(m.labels[2].event.peak_ms, 3000); /* a rumble's peak lies within it */
    assert_int_equal(m.labels[3].event.peak_ms, 5000);
    marks_clear(&m);
}

static void strange_columns_are_told(void **state)
{
    (void)state;
    static const struct { const char *head, *near; } rows[] = {
        { "kind,start_s,strenght", "strength" }, { "kind,start_s,Strengh", "strength" }, { "kind,start_s,end", "end_s" },
        { "kind,start_s,peak", "peak_s" }, { "kind,start_s,sharpnes", "sharpness" }, { "kind,start_s,wieght", "weight" },
        { "kind,start", "start_s" }, { "kind,start_s,level_dBFs", NULL }, { "kind,start_s,stroke", "strokes" },
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        struct marks m;
        struct tc_problem why = { "" };
        char text[100], want[100];
        snprintf(text, sizeof text, "%s\n", rows[i].head);
        enum tc_status status = read_text(text, &m, &why);
        marks_clear(&m);
        if (!rows[i].near) {
            assert_int_equal(status, TC_OK);
            continue;
        }
        snprintf(want, sizeof want, "mill.csv:1: there is no column '%s'; did you mean %s?",
                 strrchr(rows[i].head, ',') + 1, rows[i].near);
        assert_int_equal(status, TC_ERR_FORM);
        assert_string_equal(why.text, want);
    }
    struct marks m;
    struct tc_problem why = { "" };
    assert_int_equal(read_text("kind,note,start_s,colour,,file\ncrack,near,1,x,,y\n", &m, &why), TC_OK);
    assert_int_equal(m.count, 1);
    assert_string_equal(m.remark, "columns that are not known were passed over: note, colour, file");
    marks_clear(&m);
    assert_int_equal(read_text("kind,start_s,kind\n", &m, &why), TC_ERR_FORM);
    assert_string_equal(why.text, "mill.csv:1: the column kind is there twice");
}

static void a_file_says_what_it_was_made_with(void **state)
{
    (void)state;
    struct marks m;
    struct tc_problem why = { "" };
    assert_int_equal(read_text("kind,start_s,sensitivity,frame_rate\ncrack,1,62.5,40\ncrack,2,,\n", &m, &why), TC_OK);
    assert_near(m.sensitivity, 62.5, 0);
    assert_int_equal(m.frame_rate, 40);
    marks_clear(&m);
    assert_int_equal(read_text("kind,start_s\ncrack,1\n", &m, &why), TC_OK);
    assert_near(m.sensitivity, -1, 0);
    assert_int_equal(m.frame_rate, 0);
    marks_clear(&m);
}

/* Reading and sorting take their time from the rows, not from where they lie. */
static double seconds_to_read(int rows)
{
    char *text = malloc((size_t)rows * 24 + 64), *end = text;
    struct marks m;
    struct tc_problem why = { "" };
    assert_non_null(text);
    end += sprintf(end, "kind,start_s,end_s\n");
    for (int i = 0; i < rows; i++) end += sprintf(end, i % 2 ? "crack,5.000,\n" : "rumble,%d.5,900000\n", i % 800000);
    clock_t start = clock();
    if (marks_read(text, (size_t)(end - text), "many", &m, &why) != TC_OK) fail_msg("%s", why.text);
    double seconds = (double)(clock() - start) / CLOCKS_PER_SEC;
    assert_int_equal(m.count, rows);
    marks_clear(&m);
    free(text);
    return seconds;
}

/* Eight times as many rows take about eight times as long, not 64 times: a
 * ratio of one run, with room for a busy machine. */
static void many_events_at_one_moment_are_read_at_once(void **state)
{
    (void)state;
    double few = seconds_to_read(50000), many = seconds_to_read(400000);
    print_message("50000 events: %.2f s, 400000: %.2f s\n", few, many);
    assert_true(many < 32 * (few + 0.01));
}

static bool stop_at_third(void *with)
{
    return ++*(int *)with == 3;
}

/* Reading a long file asks whether to stop, and does. */
static void a_long_file_can_be_stopped(void **state)
{
    (void)state;
    enum { ROWS = 200000 };
    char *text = malloc(ROWS * 12 + 64), *end = text;
    struct marks m;
    struct tc_problem why = { "" };
    int asked = 0;
    const struct tc_watch watch = { .stop = stop_at_third, .with = &asked };
    assert_non_null(text);
    end += sprintf(end, "kind,start_s\n");
    for (int i = 0; i < ROWS; i++) end += sprintf(end, "crack,1\n");
    assert_int_equal(marks_read_watched(text, (size_t)(end - text), "long", &watch, &m, &why), TC_ERR_STOPPED);
    assert_int_equal(asked, 3);
    assert_int_equal(m.count, 0);
    marks_clear(&m);
    free(text);
}

/* Rows that start and end together stay in the order of the file, whoever sorts:
 * the page's C library and the program's have sorts of their own. */
static void rows_at_one_moment_keep_the_files_order(void **state)
{
    (void)state;
    for (int turned = 0; turned < 2; turned++) {
        struct marks m;
        struct tc_problem why = { "" };
        turn_round = turned;
        enum tc_status status = read_text("kind,start_s,end_s,strength\n"
                                          "rumble,2,3,0.6\n"
                                          "crack,2,,0.4\n"
                                          "rumble,2,3,0.5\n"
                                          "crack,2,,0.1\n"
                                          "crack,1,,0.9\n"
                                          "crack,2,,0.3\n"
                                          "rumble,2,3,0.7\n"
                                          "crack,2,,0.2\n", &m, &why);
        turn_round = false;
        assert_int_equal(status, TC_OK);
        static const int want[] = { 90, 40, 10, 30, 20, 60, 50, 70 };
        assert_int_equal(m.count, COUNT(want));
        for (size_t i = 0; i < COUNT(want); i++)
            assert_int_equal(lround(100 * (double)m.labels[i].event.strength), want[i]);
        marks_clear(&m);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_label_file_reads_sorted_by_start),
        cmocka_unit_test(the_same_rows_in_other_clothes_read_the_same),
        cmocka_unit_test(wrong_files_name_line_and_cell),
        cmocka_unit_test(a_moved_crack_takes_its_end_and_peak_along),
        cmocka_unit_test(strange_columns_are_told),
        cmocka_unit_test(a_file_says_what_it_was_made_with),
        cmocka_unit_test(many_events_at_one_moment_are_read_at_once),
        cmocka_unit_test(a_long_file_can_be_stopped),
        cmocka_unit_test(rows_at_one_moment_keep_the_files_order),
    };
    return cmocka_run_group_tests_name("labels", tests, NULL, NULL);
}
