/* One value of a rig file changes, and nothing else. */
#include "check.h"

#include "rig/rig_edit.h"

struct got {
    char text[2000];
    size_t used;
};

static enum tc_status take(void *to, const char *bytes, size_t size)
{
    struct got *g = to;
    memcpy(g->text + g->used, bytes, size);
    g->used += size;
    return TC_OK;
}

static const struct {
    const char *name, *before;
    int number;
    double percent;
    const char *after; /* NULL: there is no such section */
} rows[] = {
    { "a value, its comment kept", "[channel 3]\nmin_level = 5   ; guessed\nwatts = 5\n", 3, 12,
      "[channel 3]\nmin_level = 12   ; guessed\nwatts = 5\n" },
    { "only its own section", "[channel 1]\nmin_level = 1\n[channel 3]\nmin_level=5\n[channel 4]\nmin_level = 4", 3, 7.5,
      "[channel 1]\nmin_level = 1\n[channel 3]\nmin_level=7.5\n[channel 4]\nmin_level = 4" },
    { "a new line", "; mine\r\n[ channel  03 ] ; flood\r\nwatts = 5\r\n", 3, 9,
      "; mine\r\n[ channel  03 ] ; flood\r\nmin_level = 9\r\nwatts = 5\r\n" },
    { "a comment is no value", "[channel 3]\n;min_level = 5\n", 3, 9, "[channel 3]\nmin_level = 9\n;min_level = 5\n" },
    { "the last line without its end", "[channel 3]", 3, 9, "[channel 3]\nmin_level = 9\n" },
    { "an empty value", "[channel 3]\nmin_level =\n", 3, 9, "[channel 3]\nmin_level =9\n" },
    { "other numbers", "[channel 30]\n[channel 13]\n[circuit 3]\n", 3, 9, NULL },
};

static void one_line_changes_and_no_other(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT(rows); i++) {
        struct got got = { .used = 0 };
        struct tc_sink sink = { .write = take, .to = &got };
        enum tc_status status = rig_edit_min_level(rows[i].before, strlen(rows[i].before), rows[i].number,
                                                   rows[i].percent, &sink);
        assert_int_equal(status, rows[i].after ? TC_OK : TC_ERR_RIG);
        if (rows[i].after && strcmp(got.text, rows[i].after)) fail_msg("%s: %s", rows[i].name, got.text);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(one_line_changes_and_no_other) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
