/* The sound's clock, fed by a simulated card: its rate is off, its tellings
 * come in buffers and jitter, and the true moment of every sample is known. */
#include "check.h"

#include "io/sound/sound_clock.h"
#include "words/random.h"

enum { RATE = 48000, BUFFER = 1024 };

/* Plays `seconds` on a card that is `ppm` too fast; returns how far the clock is
 * from the truth at worst, in ms, after `settle` seconds. */
static double worst_ms(double seconds, double ppm, double jitter_ms, double settle)
{
    struct sound_clock c;
    struct randomiser r = random_keyed(7, 1, 2);
    double each = 1 / (RATE * (1 + ppm * 1e-6)), worst = 0;
    sound_clock_begin(&c, RATE);
    for (int64_t frame = 0; (double)frame * each < seconds; frame += BUFFER) {
        double true_s = 100 + (double)frame * each;
        sound_clock_tell(&c, frame, true_s + jitter_ms / 1000 * (random_uniform(&r) - 0.5));
        double now = true_s + BUFFER * each * random_uniform(&r);
        double off = fabs(sound_clock_frame(&c, now) - (now - 100) / each) * each * 1000;
        if (true_s - 100 > settle && off > worst) worst = off;
    }
    return worst;
}

static void an_hour_at_100_ppm_does_not_add_up(void **state)
{
    (void)state;
    /* left alone, 100 ppm would be 360 ms after an hour */
    assert_true(worst_ms(3600, 100, 0, 10) < 0.05);
    assert_true(worst_ms(3600, -100, 0, 10) < 0.05);
}

static void jitter_of_a_buffer_is_smoothed(void **state)
{
    (void)state;
    assert_true(worst_ms(600, 50, 10, 10) < 3);
}

static void a_card_that_stopped_is_found_again_at_once(void **state)
{
    (void)state;
    struct sound_clock c;
    sound_clock_begin(&c, RATE);
    for (int i = 0; i < 100; i++) sound_clock_tell(&c, i * BUFFER, 10 + i * (double)BUFFER / RATE);
    sound_clock_tell(&c, 100 * BUFFER, 20);
    assert_near(sound_clock_frame(&c, 20), 100 * BUFFER, 1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_hour_at_100_ppm_does_not_add_up),
        cmocka_unit_test(jitter_of_a_buffer_is_smoothed),
        cmocka_unit_test(a_card_that_stopped_is_found_again_at_once),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
