/* Sums of wiring and line against published and independently computed values. */
#include "check.h"

#include "rig/electric.h"
#include "rig/rope.h"

/* ---- Wiring ---- */

/* NEC 210.19(A)(1): continuous loads count at 125 %; hence 12 A of a 15 A
 * breaker and 16 A of one of 20 A, 1440 W and 1920 W at 120 V. */
static void continuous_loads_fill_80_percent(void **state)
{
    (void)state;
    static const struct { double breaker, amps, watts; } rows[] = { { 15, 12, 1440 }, { 20, 16, 1920 } };
    for (size_t i = 0; i < COUNT(rows); i++) {
        assert_near(CONTINUOUS_SHARE * rows[i].breaker, rows[i].amps, 1e-9);
        assert_near(CONTINUOUS_SHARE * rows[i].breaker * 120, rows[i].watts, 1e-9);
        assert_near(load_amps(rows[i].watts, 120), rows[i].amps, 1e-9);
    }
    assert_near(1.25 * CONTINUOUS_SHARE, 1, 1e-12);
    assert_near(load_amps(100, 0), 0, 0);
}

/* NEC chapter 9 table 8, stranded uncoated copper at 75 C; the resistance of a
 * gauge is also that of its area: each 3 gauges halve it nearly (AWG, ASTM
 * B258: 92^(1/39) a gauge in diameter), here within 4 %. */
static void wire_has_the_resistance_of_its_gauge(void **state)
{
    (void)state;
    static const struct { int awg; double ohms; } rows[] = { { 18, 7.95 }, { 16, 4.99 }, { 14, 3.14 }, { 12, 1.98 }, { 10, 1.24 } };
    for (size_t i = 0; i < COUNT(rows); i++) {
        assert_near(copper_ohms_per_kft(rows[i].awg), rows[i].ohms, 0);
        double by_area = rows[0].ohms * pow(92, -(18 - rows[i].awg) * 2 / 39.0);
        assert_near(rows[i].ohms / by_area, 1, 0.04);
    }
    assert_near(copper_ohms_per_kft(13), 0, 0);
    assert_near(copper_ohms_per_kft(0), 0, 0);
}

/* NEC table 400.5(A)(1), column B: two wires in use. */
static void cord_has_the_rating_of_its_gauge(void **state)
{
    (void)state;
    static const struct { int awg; double amps; } rows[] = { { 18, 10 }, { 16, 13 }, { 14, 18 }, { 12, 25 }, { 22, 0 } };
    for (size_t i = 0; i < COUNT(rows); i++) assert_near(cord_rated_amps(rows[i].awg), rows[i].amps, 0);
}

/* 2 L I R / 1000 with the table above, worked by hand for 100 ft one way at 120 V. */
static void cord_drops_volts(void **state)
{
    (void)state;
    static const struct { double amps; int awg; double volts, percent; } rows[] = {
        { 5, 16, 4.99, 4.16 }, { 5, 14, 3.14, 2.62 },  { 5, 12, 1.98, 1.65 },
        { 10, 16, 9.98, 8.32 }, { 10, 14, 6.28, 5.23 }, { 10, 12, 3.96, 3.30 },
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        double volts = cord_drop_volts(rows[i].awg, 100, rows[i].amps);
        assert_near(volts, rows[i].volts, 0.005);
        assert_near(100 * volts / 120, rows[i].percent, 0.005);
    }
    assert_near(cord_drop_volts(13, 100, 10), 0, 0);
}

/* The same formula turned around: 3 % of 120 V at 10 A. */
static void cord_length_for_3_percent(void **state)
{
    (void)state;
    static const struct { int awg; double feet; } rows[] = { { 16, 36.1 }, { 14, 57.3 }, { 12, 90.9 } };
    for (size_t i = 0; i < COUNT(rows); i++) {
        double feet = cord_length_ft(rows[i].awg, 10, 120, 3);
        assert_near(feet, rows[i].feet, 0.05);
        assert_near(cord_drop_volts(rows[i].awg, feet, 10), 3.6, 1e-9);
    }
    assert_near(cord_length_ft(16, 0, 120, 3), 0, 0);
    assert_near(cord_length_ft(1, 10, 120, 3), 0, 0);
}

/* 1 / (2 f): 8.333 ms at 60 Hz, 10 ms at 50 Hz. */
static void half_cycles(void **state)
{
    (void)state;
    assert_near(half_cycle_ms(60), 8.3333, 0.0001);
    assert_near(half_cycle_ms(50), 10, 0);
}

/* ---- Line ---- */

/* Statics of a taut V, T = W sqrt((L/2)^2 + s^2) / (2 s), and of a parabola,
 * T = H sqrt(1 + 16 (s/L)^2) with H = w L^2 / (8 s); L = 50 ft. */
static void line_pulls_at_its_ends(void **state)
{
    (void)state;
    static const struct { double sag, centre_5_lb, spread; } rows[] = {
        { 0.25, 250.0, 125.0 }, { 0.5, 125.0, 62.55 }, { 1, 62.55, 31.35 },
        { 2, 31.35, 15.82 },    { 2.5, 25.12, 12.75 }, { 5, 12.75, 6.73 },
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        /* the published values have 3 to 5 digits */
        assert_near(rope_tension(50, rows[i].sag, 5, 0) / rows[i].centre_5_lb, 1, 0.0005);
        assert_near(rope_tension(50, rows[i].sag, 0, 0.1) / rows[i].spread, 1, 0.0005);
    }
    /* 5 lb in the middle of 50 ft that hang 6 in: 125 lb. */
    assert_near(rope_tension(50, 6 / 12.0, 5, 0), 125.0, 0.05);
    /* 15 m, 2.5 kg, 0.15 m: 613 N. */
    assert_near(rope_tension(15, 0.15, 2.5 * 9.80665, 0), 613, 0.5);
    assert_near(rope_tension(50, 1, 0, 0), 0, 0);
}

/* The end tension of a catenary (Bernoulli, Huygens, Leibniz 1691): with the
 * parameter a from sag = a (cosh(L / 2a) - 1), T = w (a + sag). Solved here by
 * halving, independent of the parabola that the program uses. */
static double catenary_tension(double span, double sag, double w)
{
    double low = span / 20, high = span * 1e6;
    for (int i = 0; i < 200; i++) {
        double a = (low + high) / 2;
        /* cosh x - 1 = 2 sinh^2(x / 2) keeps its digits */
        double hangs = 2 * a * pow(sinh(span / (4 * a)), 2);
        if (hangs > sag) low = a;
        else high = a;
    }
    return w * (low + sag);
}

static void parabola_is_near_the_catenary(void **state)
{
    (void)state;
    assert_near(catenary_tension(50, 0.5, 0.1), 62.558, 0.001);
    assert_near(catenary_tension(50, 5, 0.1), 6.832, 0.001);
    for (double sag = 0.25; sag <= 5; sag += 0.25) {
        double exact = catenary_tension(50, sag, 0.1), ours = rope_tension(50, sag, 0, 0.1);
        assert_true(ours <= exact * (1 + 1e-9));
        assert_near(ours / exact, 1, 0.016);
    }
}

/* Both weights: the line is cut in the middle and the torque of one half about
 * its end must vanish (statics), whatever the weights are. */
static void weights_superpose(void **state)
{
    (void)state;
    for (double centre = 0; centre < 30; centre += 7)
        for (double spread = 0.05; spread < 1; spread *= 3)
            for (double sag = 0.5; sag < 10; sag *= 2) {
                double span = 40, up = (centre + spread * span) / 2;
                double along = sqrt(pow(rope_tension(span, sag, centre, spread), 2) - up * up);
                /* half of the centre weight at L/2, half of the spread one at L/4 */
                double torque = along * sag - centre / 2 * span / 2 - spread * span / 2 * span / 4;
                assert_near(torque / (along * sag), 0, 1e-9);
            }
}

/* 125 lb at a design factor of 12 with a knot that halves the rope asks for
 * 125 x 12 / 0.5 = 3000 lb; at a sag of 2.5 ft for 603 lb. */
static void rope_needs_its_strength(void **state)
{
    (void)state;
    assert_near(rope_breaking_needed(125, 0.5, 12), 3000, 1e-9);
    assert_near(rope_breaking_needed(rope_tension(50, 2.5, 5, 0), 0.5, 12), 603, 0.5);
    assert_near(rope_working_load(3000, 0.5, 12), 125, 1e-9);
}

/* Geometry of a V (Pythagoras): 50.010 ft at a sag of 0.5 ft; and the sag after
 * the line has become longer. */
static void stretch_makes_sag(void **state)
{
    (void)state;
    static const struct { double share, sag; } rows[] = { { 0, 0.5 }, { 0.001, 1.23 }, { 0.005, 2.55 }, { 0.01, 3.58 }, { 0.02, 5.05 } };
    assert_near(rope_length_v(50, 0.5), 50.010, 0.0005);
    for (size_t i = 0; i < COUNT(rows); i++)
        assert_near(rope_sag_stretched(50, 0.5, rows[i].share), rows[i].sag, 0.006);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(continuous_loads_fill_80_percent),
        cmocka_unit_test(wire_has_the_resistance_of_its_gauge),
        cmocka_unit_test(cord_has_the_rating_of_its_gauge),
        cmocka_unit_test(cord_drops_volts),
        cmocka_unit_test(cord_length_for_3_percent),
        cmocka_unit_test(half_cycles),
        cmocka_unit_test(line_pulls_at_its_ends),
        cmocka_unit_test(parabola_is_near_the_catenary),
        cmocka_unit_test(weights_superpose),
        cmocka_unit_test(rope_needs_its_strength),
        cmocka_unit_test(stretch_makes_sag),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
