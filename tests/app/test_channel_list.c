/* Lists of channels: short, whole, and cut where there is no room. */
#include "check.h"

#include "app/report/channel_list.h"

static struct tc_channel channels[TC_MAX_CHANNELS];
static const struct tc_rig rig = { .channels = channels, .channel_count = TC_MAX_CHANNELS };

static void neighbours_are_drawn_together(void **state)
{
    (void)state;
    static const struct { int numbers[6]; const char *which, *list; size_t count; } rows[] = {
        { { 1, 2, 3, 4, 5, 6 }, "111111", "1-6", 6 }, { { 1, 2, 3, 4, 5, 6 }, "000000", "", 0 },
        { { 1, 2, 3, 4, 5, 6 }, "110101", "1-2, 4, 6", 4 }, { { 1, 3, 4, 9, 10, 12 }, "111111", "1, 3-4, 9-10, 12", 6 },
        { { 500, 501, 502, 503, 504, 512 }, "011101", "501-503, 512", 4 },
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        struct tc_rig small = { .channels = channels, .channel_count = 6 };
        bool which[6];
        char list[100];
        for (int c = 0; c < 6; c++) {
            channels[c].number = rows[i].numbers[c];
            which[c] = rows[i].which[c] == '1';
        }
        assert_int_equal(channel_list(list, sizeof list, &small, which, true), rows[i].count);
        assert_string_equal(list, rows[i].list);
    }
}

static void a_list_fits_its_room_or_says_that_it_goes_on(void **state)
{
    (void)state;
    static bool odd[TC_MAX_CHANNELS];
    char list[CHANNEL_LIST_ROOM + 1];
    for (int c = 0; c < TC_MAX_CHANNELS; c++) {
        channels[c].number = c + 1;
        odd[c] = c % 2 == 0;
    }
    assert_int_equal(channel_list(list, CHANNEL_LIST_ROOM, &rig, odd, true), 256);
    assert_string_equal(list + strlen(list) - 5, ", 511");
    for (size_t size = 40; size < CHANNEL_LIST_ROOM; size += 7) {
        memset(list, '#', sizeof list);
        assert_int_equal(channel_list(list, size, &rig, odd, true), 256);
        assert_true(strlen(list) < size);
        assert_int_equal(list[size], '#');
        if (strlen(list) < 1200) assert_string_equal(list + strlen(list) - 5, ", ...");
    }
}

static void channels_go_by_number_name_and_range(void **state)
{
    (void)state;
    static const struct { const char *word; size_t count, first; } rows[] = {
        { "1", 1, 0 }, { "04", 1, 2 }, { "flood left", 1, 3 }, { "Trunk Top", 1, 0 }, { "1-4", 3, 0 }, { "2-9", 3, 1 }, { "9-9", 1, 3 },
        { "a-b", 1, 1 }, { "3", 0, 0 }, { "4-1", 0, 0 }, { "1-3", 0, 0 }, { "3-9", 0, 0 }, { "trunk", 0, 0 }, { "-", 0, 0 }, { "1-", 0, 0 },
        { "-4", 0, 0 }, { "", 0, 0 }, { "123456789-4", 0, 0 }, { "1-2-4", 0, 0 },
    };
    static const struct { int number; const char *name; } are[] = { { 1, "trunk top" }, { 2, "a-b" }, { 4, "1" }, { 9, "flood left" } };
    struct tc_rig small = { .channels = channels, .channel_count = COUNT(are) };
    for (size_t c = 0; c < COUNT(are); c++) {
        channels[c].number = are[c].number;
        snprintf(channels[c].name, sizeof channels[c].name, "%s", are[c].name);
    }
    for (size_t i = 0; i < COUNT(rows); i++) {
        size_t found[COUNT(are)], count = channel_list_find(&small, rows[i].word, found);
        if (count != rows[i].count) fail_msg("'%s': %zu channels, not %zu", rows[i].word, count, rows[i].count);
        for (size_t k = 0; k < count; k++) assert_int_equal(found[k], rows[i].first + k);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(neighbours_are_drawn_together),
        cmocka_unit_test(channels_go_by_number_name_and_range),
        cmocka_unit_test(a_list_fits_its_room_or_says_that_it_goes_on),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
