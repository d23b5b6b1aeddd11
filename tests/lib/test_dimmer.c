/* Light to level and back, and what channels weigh. */
#include "check.h"

#include "rig/dimmer.h"
#include "words/random.h"

static struct tc_channel lamp(enum tc_curve curve, double min_level, double max_level)
{
    return (struct tc_channel){ .number = 1, .kind = TC_FLOOD, .parent = -1, .group = -1, .watts = 10,
                                .curve = curve, .min_level = min_level, .max_level = max_level };
}

static struct dimmer *dimmer_of(struct tc_rig *rig, struct tc_channel *channel, enum tc_levels unit)
{
    struct dimmer *d;
    *rig = (struct tc_rig){ .channels = channel, .channel_count = 1 };
    assert_int_equal(dimmer_create(&d, rig, unit), TC_OK);
    return d;
}

/* Square law (theatre practice): half the level gives a quarter of the light. */
static void square_law_gives_the_square_root(void **state)
{
    (void)state;
    static const struct { float light; uint16_t level; } rows[] = {
        { 0.01f, 100 }, { 0.0625f, 250 }, { 0.25f, 500 }, { 0.49f, 700 }, { 0.81f, 900 }, { 1, 1000 },
    };
    struct tc_channel c = lamp(TC_CURVE_SQUARE, 0, 100);
    struct tc_rig rig;
    struct dimmer *d = dimmer_of(&rig, &c, TC_LEVELS_PERCENT);
    for (size_t i = 0; i < COUNT(rows); i++) assert_int_equal(dimmer_level(d, 0, rows[i].light), rows[i].level);
    dimmer_destroy(d);
}

/* CIE 15: lightness L* 10/25/50/75/90 is light .01126/.04416/.18419/.48278/.76303. */
static void lstar_level_is_lightness(void **state)
{
    (void)state;
    static const struct { float light; uint16_t level; } rows[] = {
        { .011260f, 100 }, { .044155f, 250 }, { .184187f, 500 }, { .482781f, 750 }, { .763034f, 900 },
    };
    struct tc_channel c = lamp(TC_CURVE_LSTAR, 0, 100);
    struct tc_rig rig;
    struct dimmer *d = dimmer_of(&rig, &c, TC_LEVELS_PERCENT);
    for (size_t i = 0; i < COUNT(rows); i++) assert_int_equal(dimmer_level(d, 0, rows[i].light), rows[i].level);
    dimmer_destroy(d);
}

/* The same table the other way round, as 8-bit linear output: 3/11/47/123/195. */
static void eight_bit_linear_output_of_lstar(void **state)
{
    (void)state;
    static const struct { float light; uint16_t level; } rows[] = {
        { .011260f, 3 }, { .044155f, 11 }, { .184187f, 47 }, { .482781f, 123 }, { .763034f, 195 },
    };
    struct tc_channel c = lamp(TC_CURVE_LINEAR, 0, 100);
    struct tc_rig rig;
    struct dimmer *d = dimmer_of(&rig, &c, TC_LEVELS_8BIT);
    for (size_t i = 0; i < COUNT(rows); i++) assert_int_equal(dimmer_level(d, 0, rows[i].light), rows[i].level);
    dimmer_destroy(d);
}

static void minimum_and_maximum_are_kept(void **state)
{
    (void)state;
    for (int unit = 0; unit < 2; unit++) {
        struct tc_channel c = lamp(TC_CURVE_LINEAR, 12, 80);
        struct tc_rig rig;
        struct dimmer *d = dimmer_of(&rig, &c, (enum tc_levels)unit);
        double least = 0.12 * d->full, most = 0.80 * d->full;
        assert_int_equal(dimmer_level(d, 0, 0), 0);
        assert_int_equal(dimmer_level(d, 0, -1), 0);
        assert_int_equal(dimmer_level(d, 0, NAN), 0);
        assert_true(dimmer_level(d, 0, 1e-6f) >= least);
        assert_true(dimmer_level(d, 0, 1e-6f) < least + 1);
        assert_true(dimmer_level(d, 0, 1) <= most);
        assert_true(dimmer_level(d, 0, 1) > most - 1);
        assert_int_equal(dimmer_level(d, 0, 2), dimmer_level(d, 0, 1));
        assert_int_equal(channel_most(&c, d->full), dimmer_level(d, 0, 1));
        c.max_level = 50; /* 127.5 of 255 */
        assert_int_equal(channel_most(&c, 255), 127);
        dimmer_destroy(d);
    }
}

/* No other level between minimum and maximum comes nearer. */
static void the_level_is_the_nearest_and_comes_back(void **state)
{
    (void)state;
    struct randomiser r = random_keyed(1, 2, 3);
    for (int i = 0; i < 300; i++) {
        struct tc_channel c = lamp((enum tc_curve)random_below(&r, 3), random_below(&r, 40), 41 + random_below(&r, 60));
        struct tc_rig rig;
        struct dimmer *d = dimmer_of(&rig, &c, (enum tc_levels)random_below(&r, 2));
        for (int k = 0; k < 20; k++) {
            float light = (float)random_uniform(&r) + 1e-6f;
            uint16_t level = dimmer_level(d, 0, light);
            double off = fabs(dimmer_light(d, 0, level) - (double)light);
            for (uint16_t other = 0; other <= d->full; other++) {
                double percent = other * 100.0 / d->full;
                if (percent < c.min_level || percent > c.max_level) continue;
                assert_true(fabs(dimmer_light(d, 0, other) - (double)light) >= off - 1e-12);
            }
            if (dimmer_light(d, 0, level) > 0)
                assert_int_equal(dimmer_level(d, 0, (float)dimmer_light(d, 0, level)), level);
        }
        dimmer_destroy(d);
    }
}

static void watts_weigh_and_lumens_go_before(void **state)
{
    (void)state;
    struct tc_channel c[3] = { lamp(TC_CURVE_LINEAR, 0, 100), lamp(TC_CURVE_LINEAR, 0, 100),
                               lamp(TC_CURVE_LINEAR, 0, 100) };
    struct tc_rig rig = { .channels = c, .channel_count = 3 };
    c[0].watts = 5;
    c[1].watts = 15;
    c[2].watts = 20;
    assert_near(rig_weight(&rig, 1), 15, 0);
    c[0].lumens = 900;
    c[1].lumens = 100;
    assert_near(rig_weight(&rig, 0), 5, 0); /* one channel has no lumens */
    c[2].lumens = 50;
    assert_near(rig_weight(&rig, 0), 900, 0);
    c[0].lumens = c[1].lumens = c[2].lumens = 0;
    c[2].watts = 0; /* shines all the same: as much as the others on average */
    assert_near(rig_weight(&rig, 2), 10, 1e-12);
    c[0].watts = c[1].watts = 0;
    assert_near(rig_weight(&rig, 0), rig_weight(&rig, 2), 0);
    struct dimmer *d;
    assert_int_equal(dimmer_create(&d, &rig, TC_LEVELS_PERCENT), TC_OK);
    assert_near(d->weight[0] + d->weight[1] + d->weight[2], 1, 1e-12);
    dimmer_destroy(d);
}

static void a_rig_without_channels_is_no_accident(void **state)
{
    (void)state;
    struct tc_rig rig = { 0 };
    struct dimmer *d;
    assert_int_equal(dimmer_create(&d, &rig, TC_LEVELS_8BIT), TC_OK);
    assert_int_equal(d->channels, 0);
    dimmer_destroy(d);
    dimmer_destroy(NULL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(square_law_gives_the_square_root),
        cmocka_unit_test(lstar_level_is_lightness),
        cmocka_unit_test(eight_bit_linear_output_of_lstar),
        cmocka_unit_test(minimum_and_maximum_are_kept),
        cmocka_unit_test(the_level_is_the_nearest_and_comes_back),
        cmocka_unit_test(watts_weigh_and_lumens_go_before),
        cmocka_unit_test(a_rig_without_channels_is_no_accident),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
