/* Sums of load. Breaker figures: 15 A at 120 V is 1800 W, 80 % of it 1440 W;
 * 20 A is 2400 W and 1920 W (NEC 210.20(A): 125 % of a continuous load). */
#include "check.h"

#include "rig/load.h"

static void eighty_percent_of_the_breaker(void **state)
{
    (void)state;
    assert_near(circuit_advice_w(&(struct tc_circuit){ .breaker_amps = 15, .volts = 120 }), 1440, 1e-9);
    assert_near(circuit_advice_w(&(struct tc_circuit){ .breaker_amps = 20, .volts = 120 }), 1920, 1e-9);
}

static void at_the_line_is_not_over_it(void **state)
{
    (void)state;
    const struct tc_circuit c = { .breaker_amps = 15, .volts = 120 };
    double sum = 0;
    for (int i = 0; i < 600; i++) sum += 2.4; /* 1440 W but for the last bits */
    assert_true(sum > 1440);
    assert_false(circuit_over(&c, sum));
    assert_false(circuit_over(&c, 1440));
    assert_true(circuit_over(&c, 1440.1));
}

/* Three lamps on two circuits. */
static struct tc_rig small_rig(struct tc_channel channels[3], struct tc_circuit circuits[2])
{
    memset(channels, 0, 3 * sizeof *channels);
    memset(circuits, 0, 2 * sizeof *circuits);
    for (int i = 0; i < 3; i++) {
        channels[i].number = i + 1;
        channels[i].watts = (i + 1) * 100;
        channels[i].circuit = i == 2;
        channels[i].max_level = 100;
    }
    return (struct tc_rig){ .channels = channels, .channel_count = 3, .circuits = circuits, .circuit_count = 2 };
}

struct shown { int64_t at_ms; uint16_t levels[3]; };

/* What they draw over some light frames; to be cleared. */
static struct load_report measured(uint16_t full, const struct shown *frames, size_t count)
{
    struct tc_channel channels[3];
    struct tc_circuit circuits[2];
    struct tc_rig rig = small_rig(channels, circuits);
    struct load_meter *m;
    struct load_report r;
    assert_int_equal(load_meter_create(&m, &rig, full), TC_OK);
    for (size_t f = 0; f < count; f++) load_meter_step(m, frames[f].levels, frames[f].at_ms);
    load_meter_report(m, &r);
    load_meter_destroy(m);
    return r;
}

static void sums_and_highest_moments(void **state)
{
    (void)state;
    static const struct shown frames[] = {
        { 0, { 0, 0, 0 } }, { 25, { 1000, 0, 0 } }, { 50, { 500, 500, 0 } }, { 75, { 500, 500, 0 } }, { 100, { 0, 0, 0 } },
        { 125, { 0, 0, 0 } }, { 150, { 0, 0, 0 } }, { 175, { 0, 0, 200 } }, { 200, { 0, 0, 0 } },
    };
    struct load_report r = measured(1000, frames, COUNT(frames));
    assert_near(r.rig.all_on_w, 600, 1e-9);
    assert_near(r.circuits[0].all_on_w, 300, 1e-9);
    assert_near(r.circuits[1].all_on_w, 300, 1e-9);
    assert_near(r.rig.reached_w, 150, 1e-9); /* 50 + 100 */
    assert_int_equal(r.rig.reached_at_ms, 50);
    assert_near(r.circuits[0].reached_w, 150, 1e-9);
    assert_near(r.circuits[1].reached_w, 60, 1e-9);
    assert_int_equal(r.circuits[1].reached_at_ms, 175);
    assert_near(r.channels[0].reached_w, 100, 1e-9);
    assert_int_equal(r.channels[0].reached_at_ms, 25);
    assert_near(r.channels[1].reached_w, 100, 1e-9);
    assert_near(r.lit_share, 4.0 / 9, 1e-12);
    assert_int_equal(r.longest_dark_ms, 75); /* from 100 to 175 ms */
    load_report_clear(&r);
    load_report_clear(&r);
}

static void eight_bit_levels_reach_full(void **state)
{
    (void)state;
    static const struct shown frames[] = { { 0, { 255, 255, 255 } }, { 1000, { 0, 0, 0 } }, { 4000, { 0, 0, 0 } } };
    struct load_report r = measured(255, frames, COUNT(frames));
    assert_near(r.rig.reached_w, r.rig.all_on_w, 1e-9);
    assert_int_equal(r.longest_dark_ms, 3000);
    load_report_clear(&r);
}

static void nothing_played_is_no_accident(void **state)
{
    (void)state;
    struct tc_rig rig = { 0 };
    struct load_meter *m;
    struct load_report r;
    assert_int_equal(load_meter_create(&m, &rig, 1000), TC_OK);
    load_meter_report(m, &r);
    assert_near(r.lit_share, 0, 0);
    load_report_clear(&r);
    load_meter_destroy(m);
    load_meter_destroy(NULL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(eighty_percent_of_the_breaker),
        cmocka_unit_test(at_the_line_is_not_over_it),
        cmocka_unit_test(sums_and_highest_moments),
        cmocka_unit_test(eight_bit_levels_reach_full),
        cmocka_unit_test(nothing_played_is_no_accident),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
