/* Times of day. */
#include "check.h"

#include <time.h>

#include "io/process/time_of_day.h"

static void times_of_day_are_read(void **state)
{
    (void)state;
    static const struct { const char *text; int want; } rows[] = {
        { "19:30", 70200 }, { "0:00", 0 }, { "07:05:09", 25509 }, { "23:59:59", 86399 },
        { "24:00", -1 }, { "19:60", -1 }, { "19", -1 }, { "", -1 }, { "7:", -1 }, { "7:30pm", -1 },
        { "-1:00", -1 }, { "1:2:3:4", -1 }, { "119:30", -1 },
    };
    for (size_t i = 0; i < COUNT(rows); i++)
        if (time_of_day_read(rows[i].text) != rows[i].want) fail_msg("%s", rows[i].text);
}

static void the_next_time_of_day_is_today_or_tomorrow(void **state)
{
    (void)state;
    setenv("TZ", "UTC", 1);
    tzset();
    const int64_t noon = 1767225600 + 43200; /* 2026-01-01 12:00 UTC */
    assert_int_equal(time_of_day_next(noon, 70200), noon + 27000);
    assert_int_equal(time_of_day_next(noon, 3600), noon + 46800);
    assert_int_equal(time_of_day_next(noon, 43200), noon + 86400); /* not at once */
    /* the clock goes forward on 2026-03-29 in central Europe: 23 hours to the same time */
    setenv("TZ", "CET-1CEST,M3.5.0,M10.5.0/3", 1);
    tzset();
    const int64_t evening = 1774719000; /* 2026-03-28 18:30 CET */
    assert_int_equal(time_of_day_next(evening, time_of_day_read("18:30")), evening + 23 * 3600);
    unsetenv("TZ");
    tzset();
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(times_of_day_are_read),
        cmocka_unit_test(the_next_time_of_day_is_today_or_tomorrow),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
