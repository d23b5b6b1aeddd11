/* Conversions against published values. */
#include "check.h"

#include "words/units.h"

/* Source: 331.3 sqrt(1 + T/273.15), textbook formula; computed table of the
 * speed of sound at -20..30 C. */
static void the_speed_of_sound_is_that_of_the_tables(void **state)
{
    (void)state;
    static const struct { double celsius, speed; } rows[] = {
        { -20, 318.94 }, { 0, 331.30 }, { 10, 337.31 }, { 15, 340.28 }, { 20, 343.21 }, { 30, 349.02 },
    };
    for (size_t i = 0; i < COUNT(rows); i++) assert_near(sound_speed(rows[i].celsius), rows[i].speed, 0.006);
}

/* Common practice ("flash to bang"): 3 seconds a kilometre, 5 a mile; exact
 * values for 0, 20 and 30 C. */
static void thunder_comes_three_seconds_a_kilometre_later(void **state)
{
    (void)state;
    assert_near(flash_to_bang_s(1000, 0), 3.018, 0.0006);
    assert_near(flash_to_bang_s(1000, 20), 2.914, 0.0006);
    assert_near(flash_to_bang_s(1000, 30), 2.865, 0.0006);
    assert_near(flash_to_bang_s(1609.344, 20), 4.689, 0.0006);
    assert_near(flash_to_bang_s(1609.344, 0), 4.858, 0.0006);
}

/* Source: CIE 15, CIE 1976 lightness; values computed from its formula. */
static void lstar_is_cie_1976(void **state)
{
    (void)state;
    static const struct { double light, lightness; } up[] = {
        { .01, 8.9914 }, { .0088565, 8.0000 }, { .05, 26.7348 }, { .10, 37.8424 }, { .18, 49.4961 },
        { .20, 51.8372 }, { .50, 76.0693 }, { .80, 91.6849 }, { 1, 100 },
    };
    static const struct { double lightness, light; } down[] = {
        { 1, .001107 }, { 10, .011260 }, { 25, .044155 }, { 50, .184187 }, { 75, .482781 }, { 90, .763034 },
    };
    for (size_t i = 0; i < COUNT(up); i++)
        assert_near(100 * curve_command(TC_CURVE_LSTAR, up[i].light), up[i].lightness, 0.0006);
    for (size_t i = 0; i < COUNT(down); i++)
        assert_near(curve_light(TC_CURVE_LSTAR, down[i].lightness / 100), down[i].light, 0.000001);
}

/* Common practice: the square law of theatre dimmers. */
static void the_square_law_squares(void **state)
{
    (void)state;
    static const struct { double level, light; } rows[] = {
        { .10, .01 }, { .25, .0625 }, { .50, .25 }, { .70, .49 }, { .90, .81 },
    };
    for (size_t i = 0; i < COUNT(rows); i++)
        assert_near(curve_light(TC_CURVE_SQUARE, rows[i].level), rows[i].light, 1e-12);
}

static void curves_undo_themselves(void **state)
{
    (void)state;
    for (int curve = TC_CURVE_LINEAR; curve <= TC_CURVE_LSTAR; curve++)
        for (int i = 0; i <= 1000; i++)
            assert_near(curve_light((enum tc_curve)curve, curve_command((enum tc_curve)curve, i / 1000.0)),
                        i / 1000.0, 1e-6);
}

static void a_channel_keeps_to_its_minimum_and_maximum(void **state)
{
    (void)state;
    struct tc_channel c = { .curve = TC_CURVE_LINEAR, .min_level = 12, .max_level = 90 };
    assert_near(channel_percent(&c, 0), 0, 0);
    assert_near(channel_percent(&c, 1e-9), 12, 1e-6);
    assert_near(channel_percent(&c, 1), 90, 1e-9);
    assert_near(channel_percent(&c, 7), 90, 1e-9);
    assert_near(channel_light(&c, 11.9), 0, 0);
    assert_near(channel_light(&c, 51), 0.5, 1e-9);
    assert_near(channel_light(&c, 100), 1, 1e-9);
}

static void a_moment_belongs_to_the_frame_that_contains_it(void **state)
{
    (void)state;
    assert_int_equal(frame_at(0, 40), 0);
    assert_int_equal(frame_at(24, 40), 0);
    assert_int_equal(frame_at(25, 40), 1);
    assert_int_equal(frame_at(999, 40), 39);
    assert_int_equal(frame_at(-5, 40), 0);
    for (int64_t rate = 1; rate <= 120; rate++)
        for (int64_t ms = 0; ms < 5000; ms += 7) {
            int64_t f = frame_at(ms, rate);
            assert_true(f * 1000 <= ms * rate && ms * rate < (f + 1) * 1000);
        }
}

/* Source: AES17, full-scale sine = 0 dBFS; the byte holds half decibels. */
static void level_bytes_hold_half_decibels(void **state)
{
    (void)state;
    assert_int_equal(level_byte(1), 255);
    assert_int_equal(level_byte(10), 255);
    assert_int_equal(level_byte(0), 0);
    assert_int_equal(level_byte(1e-6), 255 - 120);
    for (int b = 1; b < 256; b++) assert_int_equal(level_byte(level_byte_power((uint8_t)b)), b);
}

static void times_and_levels_have_one_rounding(void **state)
{
    (void)state;
    assert_int_equal(level_full(TC_LEVELS_PERCENT), 1000); /* tenths of a percent */
    assert_int_equal(level_full(TC_LEVELS_8BIT), 255);     /* DMX512-A: a slot is 8 bits */
    assert_int_equal(seconds_ms(1.2345), 1235);
    assert_int_equal(seconds_ms(1.2344), 1234);
    assert_int_equal(seconds_ms(-0.0004), 0);
    assert_int_equal(frame_us(40, 40), 1000000);
    assert_int_equal(frame_us(1, 44), 22727);
    assert_int_equal(frame_us(INT64_C(7200) * 120, 120), INT64_C(7200000000));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_speed_of_sound_is_that_of_the_tables),
        cmocka_unit_test(thunder_comes_three_seconds_a_kilometre_later),
        cmocka_unit_test(lstar_is_cie_1976),
        cmocka_unit_test(the_square_law_squares),
        cmocka_unit_test(curves_undo_themselves),
        cmocka_unit_test(a_channel_keeps_to_its_minimum_and_maximum),
        cmocka_unit_test(a_moment_belongs_to_the_frame_that_contains_it),
        cmocka_unit_test(level_bytes_hold_half_decibels),
        cmocka_unit_test(times_and_levels_have_one_rounding),
    };
    return cmocka_run_group_tests_name("units", tests, NULL, NULL);
}
