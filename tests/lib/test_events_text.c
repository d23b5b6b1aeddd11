/* Label and event files: the documented forms, and what is wrong with others. */
#include "check.h"

#include <unistd.h>

#include "marks/events_text.h"

static void write_file(char path[64], const char *text, size_t size)
{
    strcpy(path, "/tmp/thundercue-labels-XXXXXX");
    int fd = mkstemp(path);
    assert_true(fd >= 0);
    assert_int_equal(write(fd, text, size), (ssize_t)size);
    close(fd);
}

static enum tc_status read_text(const char *text, struct label **out, size_t *count, struct tc_problem *why)
{
    char path[64];
    write_file(path, text, strlen(text));
    enum tc_status status = labels_read(path, out, count, why);
    unlink(path);
    return status;
}

static void a_label_file_reads_sorted_by_start(void **state)
{
    (void)state;
    struct label *l;
    size_t n;
    struct tc_problem why = { "" };
    assert_int_equal(read_text("kind,start_s,end_s,weight\n"
                               "rumble,0.100,4.850,\n"
                               "crack,1.225,,3\n"
                               "crack,0.080,,1\n", &l, &n, &why), TC_OK);
    assert_int_equal(n, 3);
    assert_int_equal(l[0].event.start_ms, 80);
    assert_int_equal(l[0].weight, 1);
    assert_int_equal(l[1].event.kind, TC_RUMBLE);
    assert_int_equal(l[1].event.end_ms, 4850);
    assert_int_equal(l[1].weight, 0);
    assert_int_equal(l[2].event.start_ms, 1225);
    assert_int_equal(l[2].event.end_ms, 1225);
    assert_int_equal(l[2].weight, 3);
    free(l);
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
        "kind,start_s,end_s,peak_s,strength,sharpness,level_dbfs\ncrack,1.500,1.500,1.500,1.00,1.00,0.0\n",
    };
    for (size_t i = 0; i < COUNT(forms); i++) {
        struct label *l;
        size_t n;
        struct tc_problem why = { "" };
        if (read_text(forms[i], &l, &n, &why) != TC_OK) fail_msg("form %zu: %s", i, why.text);
        assert_int_equal(n, 1);
        assert_int_equal(l[0].event.kind, TC_CRACK);
        assert_int_equal(l[0].event.start_ms, 1500);
        assert_int_equal(l[0].event.peak_ms, 1500);
        free(l);
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
        struct label *l;
        size_t n;
        struct tc_problem why = { "" };
        assert_int_equal(read_text(rows[i].text, &l, &n, &why), TC_ERR_FORM);
        assert_null(l);
        if (!strstr(why.text, rows[i].says)) fail_msg("'%s' does not say '%s'", why.text, rows[i].says);
    }
}

static void a_missing_file_says_so(void **state)
{
    (void)state;
    struct label *l;
    size_t n;
    struct tc_problem why = { "" };
    assert_int_equal(labels_read("/nowhere/mill.labels.csv", &l, &n, &why), TC_ERR_FORM);
    assert_non_null(strstr(why.text, "/nowhere/mill.labels.csv: can't be read"));
    assert_int_equal(labels_read("/nowhere/mill.labels.csv", &l, &n, NULL), TC_ERR_FORM);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_label_file_reads_sorted_by_start),
        cmocka_unit_test(the_same_rows_in_other_clothes_read_the_same),
        cmocka_unit_test(wrong_files_name_line_and_cell),
        cmocka_unit_test(a_missing_file_says_so),
    };
    return cmocka_run_group_tests_name("labels", tests, NULL, NULL);
}
