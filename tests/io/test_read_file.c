/* Text files from the disk: whole, or refused with the reason. */
#include "check.h"
#include "scratch.h"

#include <malloc.h>
#include <stdio.h>

#include "io/files/long_text.h"
#include "io/files/read_file.h"
#include "io/files/read_form.h"

static void all_bytes_come_whatever_the_size(void **state)
{
    (void)state;
    static const size_t sizes[] = { 0, 1, 65535, 65536, 65537, 300000 };
    char *bytes = calloc(1, 300000);
    assert_non_null(bytes);
    mallopt(M_PERTURB, 85); /* new memory is not zero by chance */
    for (size_t i = 0; i < 300000; i++) bytes[i] = (char)('a' + i % 19);
    for (size_t i = 0; i < COUNT(sizes); i++) {
        struct file_text t;
        struct tc_problem why = { "" };
        scratch_write(scratch_at("t.rig"), bytes, sizes[i]);
        if (file_read(scratch_at("t.rig"), TC_ERR_FORM, &t, &why) != TC_OK) fail_msg("%s", why.text);
        assert_int_equal(t.size, sizes[i]);
        assert_memory_equal(t.bytes, bytes, sizes[i]);
        assert_int_equal(t.bytes[t.size], 0);
        file_text_free(&t);
    }
    mallopt(M_PERTURB, 0);
    free(bytes);
}

/* A device of endless zeroes, and one that never says anything but noise. */
static void endless_files_are_given_up(void **state)
{
    (void)state;
    struct file_text t;
    assert_int_equal(file_read("/dev/zero", TC_ERR_FORM, &t, NULL), TC_OK);
    assert_true(t.size < 1000000 && memchr(t.bytes, 0, t.size));
    file_text_free(&t);
    struct tc_settings s = tc_settings_default();
    struct tc_problem why = { "" };
    assert_int_equal(read_settings("/dev/zero", &s, &why), TC_ERR_FORM);
    assert_string_equal(why.text, "/dev/zero:1: a zero byte: this is not plain text; save the file in UTF-8");
}

static void files_that_are_none(void **state)
{
    (void)state;
    struct tc_rig rig;
    struct tc_problem why;
    assert_int_equal(read_rig(scratch_folder(), &rig, &why), TC_ERR_RIG);
    assert_non_null(strstr(why.text, ": can't be read: Is a directory"));
    assert_int_equal(read_rig("/nowhere/at\x1B/all.rig", &rig, &why), TC_ERR_RIG);
    assert_string_equal(why.text, "/nowhere/at?/all.rig: can't be read: No such file or directory");
    struct tc_settings s = tc_settings_default();
    assert_int_equal(read_settings("/nowhere/at/all", &s, &why), TC_ERR_FORM);
    assert_string_equal(why.text, "/nowhere/at/all: can't be read: No such file or directory");
    assert_int_equal(read_settings("/nowhere/at/all", &s, NULL), TC_ERR_FORM);
}

/* A timeline that is too long to be taken as a whole says the same as one from memory. */
static void a_long_file_is_the_same_in_pieces(void **state)
{
    (void)state;
    enum { ROWS = 900000, SIZE = 26 * ROWS };
    char *text = malloc(SIZE + 100);
    size_t used = 0;
    assert_non_null(text);
    used += (size_t)sprintf(text, "time_s,level\r\n");
    for (int row = 0; row < ROWS; row++)
        used += (size_t)sprintf(text + used, "%.3f,%d.0,%d.5\r\n", row / 40.0, row % 100, row % 90);
    scratch_write(scratch_at("long.csv"), text, used);
    struct long_text t;
    struct tc_problem why = { "" };
    assert_int_equal(long_text_open(&t, scratch_at("long.csv"), TC_ERR_READ, &why), TC_OK);
    assert_null(t.text.bytes); /* it is long enough */
    for (int lap = 0; lap < 2; lap++) { /* from its beginning once more */
        struct csv *whole = csv_open(text, used), *parts = csv_open_text(&t.text);
        assert_true(whole && parts);
        for (enum csv_result r = CSV_ROW; r == CSV_ROW;) {
            r = csv_next(whole);
            if (csv_next(parts) != r || strcmp(csv_get(parts, 0), csv_get(whole, 0))
                || strcmp(csv_get(parts, 2), csv_get(whole, 2)))
                fail_msg("line %ld differs", csv_line(whole));
        }
        csv_close(whole);
        csv_close(parts);
    }
    assert_int_equal(long_text_result(&t, "long.csv", TC_ERR_READ, &why), TC_OK);
    fclose(t.in); /* a disk that fails */
    t.in = fopen("/", "rb");
    t.at = 0;
    if (t.in) {
        struct csv *c = csv_open_text(&t.text);
        assert_non_null(c);
        while (csv_next(c) == CSV_ROW) continue;
        csv_close(c);
        assert_int_equal(long_text_result(&t, "long.csv", TC_ERR_READ, &why), TC_ERR_READ);
        assert_non_null(strstr(why.text, "long.csv: can't be read: "));
    }
    long_text_close(&t);
    free(text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_long_file_is_the_same_in_pieces),
        cmocka_unit_test(all_bytes_come_whatever_the_size),
        cmocka_unit_test(endless_files_are_given_up),
        cmocka_unit_test(files_that_are_none),
    };
    return cmocka_run_group_tests(tests, scratch_set_up, scratch_tear_down);
}
