/* The sets of channels that a pulse names, by the words of thundercue.h. */
#include "check.h"

#include "rig/channel_set.h"

/* Branches 0 and 1, of which 2 and 3 grow, 4 grows from 3; then floods. */
static struct tc_rig rig_of(struct tc_channel *channels, int floods)
{
    static const int parents[] = { -1, -1, 0, 1, 3 };
    const int branches = (int)COUNT(parents);
    for (int i = 0; i < branches + floods; i++)
        channels[i] = (struct tc_channel){ .number = i + 1, .kind = i < branches ? TC_BRANCH : TC_FLOOD,
                                           .parent = i < branches ? parents[i] : -1 };
    return (struct tc_rig){ .channels = channels, .channel_count = (size_t)(branches + floods) };
}

/* The channels of a set, as "4 3 1". */
static const char *walk(const struct tc_rig *rig, int set)
{
    static char text[200];
    struct channel_sets sets;
    assert_int_equal(channel_sets_create(&sets, rig), TC_OK);
    *text = 0;
    for (size_t i = 0, c = 0; channel_sets_next(&sets, (uint16_t)set, &i, &c);) {
        size_t used = strlen(text);
        snprintf(text + used, sizeof text - used, "%s%zu", used ? " " : "", c);
    }
    channel_sets_clear(&sets);
    return text;
}

static void a_path_goes_from_its_tip_to_the_root(void **state)
{
    (void)state;
    struct tc_channel channels[12];
    struct tc_rig rig = rig_of(channels, 2);
    assert_string_equal(walk(&rig, TC_SET_PATH + 4), "4 3 1");
    assert_string_equal(walk(&rig, TC_SET_PATH + 2), "2 0");
    assert_string_equal(walk(&rig, TC_SET_PATH + 0), "0");
}

static void a_side_is_a_half_of_the_floods_and_an_odd_one_is_in_both(void **state)
{
    (void)state;
    static const struct { int floods; const char *both, *first, *second; } rows[] = {
        { 0, "", "", "" },
        { 1, "5", "5", "5" },
        { 2, "5 6", "5", "6" },
        { 3, "5 6 7", "5 6", "6 7" },
        { 4, "5 6 7 8", "5 6", "7 8" },
        { 5, "5 6 7 8 9", "5 6 7", "7 8 9" },
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        struct tc_channel channels[12];
        struct tc_rig rig = rig_of(channels, rows[i].floods);
        assert_string_equal(walk(&rig, TC_SET_FLOODS + TC_SIDE_BOTH), rows[i].both);
        assert_string_equal(walk(&rig, TC_SET_FLOODS + TC_SIDE_FIRST), rows[i].first);
        assert_string_equal(walk(&rig, TC_SET_FLOODS + TC_SIDE_SECOND), rows[i].second);
    }
}

/* A timeline filled in by hand may name anything. */
static void what_the_rig_lacks_is_in_no_set_and_a_loop_ends(void **state)
{
    (void)state;
    struct tc_channel channels[12];
    struct tc_rig rig = rig_of(channels, 2), none = { .channels = NULL };
    assert_string_equal(walk(&rig, 6), "6");
    assert_string_equal(walk(&rig, 7), "");
    assert_string_equal(walk(&rig, TC_SET_PATH + 7), "");
    assert_string_equal(walk(&none, 0), "");
    assert_string_equal(walk(&none, TC_SET_PATH), "");
    assert_string_equal(walk(&none, TC_SET_FLOODS + TC_SIDE_FIRST), "");
    channels[1].parent = 4; /* 4 grows from 3, 3 from 1 */
    assert_string_equal(walk(&rig, TC_SET_PATH + 4), "4 3 1 4 3 1 4"); /* as many as there are channels */
    channels[1].parent = 99;
    assert_string_equal(walk(&rig, TC_SET_PATH + 4), "4 3 1");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_path_goes_from_its_tip_to_the_root),
        cmocka_unit_test(a_side_is_a_half_of_the_floods_and_an_odd_one_is_in_both),
        cmocka_unit_test(what_the_rig_lacks_is_in_no_set_and_a_loop_ends),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
