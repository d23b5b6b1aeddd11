/* Text files from the disk: whole, or refused with the reason. */
#include "check.h"
#include "scratch.h"

#include <malloc.h>
#include <stdio.h>

#include "io/read_file.h"
#include "io/read_form.h"

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

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(all_bytes_come_whatever_the_size),
        cmocka_unit_test(endless_files_are_given_up),
        cmocka_unit_test(files_that_are_none),
    };
    return cmocka_run_group_tests(tests, scratch_set_up, scratch_tear_down);
}
