/* The envelope that stands in where there is no recording. */
#include "check.h"

#include <time.h>

#include "words/random.h"
#include "words/units.h"

/* ---- Memory that runs out (the linker's --wrap) ---- */

static bool memory_is_out;

void *__real_calloc(size_t count, size_t size);
void *__wrap_calloc(size_t count, size_t size);
void *__wrap_calloc(size_t count, size_t size)
{
    return memory_is_out ? NULL : __real_calloc(count, size);
}

/* The same hill, frame by frame, from the words of the public header. */
static uint8_t level_at(const struct tc_event *events, size_t count, int64_t frame, int64_t rate)
{
    int most = 0;
    for (size_t i = 0; i < count; i++) {
        const struct tc_event *e = &events[i];
        if (e->kind != TC_RUMBLE || frame < frame_at(e->start_ms, rate) || frame >= frame_at(e->end_ms, rate)) continue;
        double t = (double)frame_ms(frame, rate);
        double up = (t - (double)e->start_ms) / ((double)(e->peak_ms - e->start_ms) + 1);
        double down = ((double)e->end_ms - t) / ((double)(e->end_ms - e->peak_ms) + 1);
        double share = t < (double)e->peak_ms ? up : down;
        int byte = (int)(2 * ((double)e->level_dbfs - 20 * (1 - (share < 0 ? 0 : share)) + 127.5) + 0.5);
        if (byte > most) most = byte > 255 ? 255 : byte;
    }
    return (uint8_t)most;
}

static void every_rumble_is_a_hill_around_its_peak(void **state)
{
    (void)state;
    static const int64_t rates[] = { 1, 7, 30, 40, 120 };
    struct randomiser r = random_keyed(3, 0, 0);
    for (int round = 0; round < 300; round++) {
        struct tc_event events[6] = { 0 };
        int64_t rate = rates[round % 5];
        for (size_t i = 0; i < COUNT(events); i++) {
            struct tc_event *e = &events[i];
            e->kind = random_below(&r, 4) ? TC_RUMBLE : TC_CRACK;
            e->start_ms = random_below(&r, 5000);
            e->end_ms = e->start_ms + (e->kind == TC_RUMBLE ? random_below(&r, 9000) : 0);
            e->peak_ms = e->start_ms + (e->end_ms > e->start_ms
                                        ? random_below(&r, (uint32_t)(e->end_ms - e->start_ms) + 1) : 0);
            e->level_dbfs = (float)random_below(&r, 1500) / 10 - 140;
        }
        struct tc_analysis a = { .event_count = COUNT(events), .events = events };
        assert_int_equal(tc_analysis_imagine(&a, rate), TC_OK);
        for (size_t f = 0; f < a.envelope_count; f++)
            if (a.envelope[f] != level_at(events, COUNT(events), (int64_t)f, rate))
                fail_msg("round %d, frame %zu: %d", round, f, a.envelope[f]);
        a.events = NULL;
        tc_analysis_clear(&a);
    }
}

static void what_is_refused_leaves_all_as_it_was(void **state)
{
    (void)state;
    struct tc_event crack = { .kind = TC_CRACK, .start_ms = 500, .end_ms = 500, .peak_ms = 500 }, odd = crack;
    struct tc_analysis a = { .event_count = 1, .events = &crack };
    assert_int_equal(tc_analysis_imagine(&a, 40), TC_OK);
    const struct tc_analysis before = a;
    for (int i = 0; i < 6; i++) {
        static const int64_t rates[] = { 0, -1, 121, INT64_MAX };
        odd = crack;
        if (i == 4) odd.end_ms = INT64_MAX - 1;
        if (i == 5) odd.start_ms = -1;
        a.events = &odd;
        assert_int_equal(tc_analysis_imagine(&a, i < 4 ? rates[i] : 40), TC_ERR_USAGE);
        assert_ptr_equal(a.envelope, before.envelope);
        assert_int_equal(a.envelope_count, before.envelope_count);
        assert_int_equal(a.length_ms, before.length_ms);
        assert_int_equal(a.frame_rate, before.frame_rate);
    }
    odd = crack;
    odd.end_ms = odd.peak_ms = 3600000; /* longer, and there is no memory for it */
    memory_is_out = true;
    assert_int_equal(tc_analysis_imagine(&a, 40), TC_ERR_MEMORY);
    memory_is_out = false;
    assert_ptr_equal(a.envelope, before.envelope);
    assert_int_equal(a.envelope_count, before.envelope_count);
    assert_int_equal(a.length_ms, before.length_ms);
    a.events = NULL;
    tc_analysis_clear(&a);
}

static double seconds_for(int rumbles)
{
    struct tc_analysis a = { .event_count = (size_t)rumbles };
    a.events = calloc((size_t)rumbles, sizeof *a.events);
    assert_non_null(a.events);
    for (int i = 0; i < rumbles; i++)
        a.events[i] = (struct tc_event){ .kind = TC_RUMBLE, .start_ms = 30 * i, .end_ms = 30 * i + 600000,
                                         .peak_ms = 30 * i + 300000, .level_dbfs = -30 };
    clock_t start = clock();
    assert_int_equal(tc_analysis_imagine(&a, 40), TC_OK);
    double seconds = (double)(clock() - start) / CLOCKS_PER_SEC;
    tc_analysis_clear(&a);
    return seconds;
}

/* Eight times as many take about eight times as long, not 64 times: a ratio of
 * one run, with room for a busy machine. */
static void overlapping_rumbles_do_not_grow_with_the_square(void **state)
{
    (void)state;
    double few = seconds_for(5000), many = seconds_for(40000);
    print_message("5000 rumbles of ten minutes: %.2f s, 40000: %.2f s\n", few, many);
    assert_true(many < 32 * (few + 0.01));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_rumble_is_a_hill_around_its_peak),
        cmocka_unit_test(what_is_refused_leaves_all_as_it_was),
        cmocka_unit_test(overlapping_rumbles_do_not_grow_with_the_square),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
