/* Text in tables lines up. */
#include "check.h"

#include "app/report/text_width.h"

/* Unicode UAX 11 (wide and full-width take two) and combining marks (none). */
static void columns_of_a_terminal_are_counted(void **state)
{
    (void)state;
    static const struct { const char *text; size_t columns; } rows[] = {
        { "", 0 }, { "storm", 5 }, { "caf\xC3\xA9", 4 }, { "cafe\xCC\x81", 4 }, { "\xE9\x9B\xB7", 2 }, { "\xED\x95\x9C", 2 },
        { "\xEF\xBC\xA1", 2 }, { "\xE2\x9A\xA1", 2 }, { "\xFFx", 2 }, { "\xE2\x94\x9C\xE2\x94\x80 1", 4 }, { "\xD7\xA8", 1 },
    };
    for (size_t i = 0; i < COUNT(rows); i++) assert_int_equal(text_columns(rows[i].text), rows[i].columns);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(columns_of_a_terminal_are_counted),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
