/* What goes to a sink arrives whole and in order; the first error stays. */
#include "check.h"

#include <stdio.h>

#include "words/sink.h"

/* Takes bytes until it has had `calls` of them, then fails. */
struct pot {
    char *bytes;
    size_t used, room;
    int calls, fails_at;
};

static enum tc_status pour(void *to, const char *bytes, size_t size)
{
    struct pot *p = to;
    if (++p->calls == p->fails_at) return TC_ERR_WRITE;
    if (p->used + size + 1 > p->room) {
        p->room = 2 * (p->used + size + 1);
        p->bytes = realloc(p->bytes, p->room);
        assert_non_null(p->bytes);
    }
    memcpy(p->bytes + p->used, bytes, size);
    p->used += size;
    p->bytes[p->used] = 0;
    return TC_OK;
}

static void all_bytes_arrive_in_order(void **state)
{
    (void)state;
    struct pot p = { 0 };
    struct writer w;
    writer_begin(&w, (struct tc_sink){ pour, &p });
    char *want = calloc(1, 400000), *at = want;
    for (int i = 0; i < 20000; i++) {
        at += sprintf(at, "%d.%02d|", i, i % 100);
        writer_fixed(&w, (int64_t)i * 100 + i % 100, 2);
        writer_text(&w, "|");
        if (i % 1000) continue;
        at += sprintf(at, "<%05d>", i);
        writer_format(&w, "<%05d>", i);
    }
    assert_int_equal(writer_end(&w), TC_OK);
    assert_string_equal(p.bytes, want);
    assert_true(p.calls < 100);
    free(want);
    free(p.bytes);
}

static void more_than_the_buffer_holds_goes_through(void **state)
{
    (void)state;
    struct pot p = { 0 };
    struct writer w;
    size_t size = 3 * WRITER_ROOM + 7;
    char *much = malloc(size);
    assert_non_null(much);
    for (size_t i = 0; i < size; i++) much[i] = (char)('a' + i % 23);
    writer_begin(&w, (struct tc_sink){ pour, &p });
    writer_text(&w, "x");
    writer_bytes(&w, much, size);
    writer_text(&w, "y");
    assert_int_equal(writer_end(&w), TC_OK);
    assert_int_equal(p.used, size + 2);
    assert_memory_equal(p.bytes + 1, much, size);
    assert_int_equal(p.bytes[size + 1], 'y');
    free(much);
    free(p.bytes);
}

static void the_first_error_stays_and_ends_the_writing(void **state)
{
    (void)state;
    struct pot p = { .fails_at = 2 };
    struct writer w;
    writer_begin(&w, (struct tc_sink){ pour, &p });
    for (int i = 0; i < 100000; i++) writer_text(&w, "0123456789");
    assert_int_equal(writer_end(&w), TC_ERR_WRITE);
    assert_int_equal(writer_end(&w), TC_ERR_WRITE);
    assert_int_equal(p.calls, 2);
    assert_true(p.used <= WRITER_ROOM);
    free(p.bytes);
}

/* A format that gives more than it may is our mistake, and not cut short in silence. */
static void too_long_a_format_is_no_text(void **state)
{
    (void)state;
    struct pot p = { 0 };
    struct writer w;
    writer_begin(&w, (struct tc_sink){ pour, &p });
    writer_format(&w, "%2000d", 1);
    assert_int_equal(w.status, TC_OK);
    writer_format(&w, "%2001d", 1);
    assert_int_equal(writer_end(&w), TC_ERR_INTERNAL);
    free(p.bytes);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(all_bytes_arrive_in_order),
        cmocka_unit_test(more_than_the_buffer_holds_goes_through),
        cmocka_unit_test(the_first_error_stays_and_ends_the_writing),
        cmocka_unit_test(too_long_a_format_is_no_text),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
