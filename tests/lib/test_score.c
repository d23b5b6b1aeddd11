/* Scoring against what mir_eval and sed_eval publish. */
#include "check.h"

#include "marks/score.h"

/* mir_eval's regression data, tests/data/onset/ref00.txt and est00.txt (MIT licence). */
static const double ref00[] = {
    .355011337, .807006802, .943990929, 1.968367346, 2.171428571, 2.380612244, 2.563265306,
    3.439455782, 4.643990929, 6.185215419, 6.339047619, 6.526258503, 6.678639455, 7.397006802,
    8.354829931, 8.798911564, 8.877278911, 8.948390022, 9.184943310, 9.430204081, 9.601451247,
    9.811882086,
};
static const double est00[] = {
    .174149660, .415056689, .850430839, .992653061, 1.904036281, 2.023038549, 2.214603175,
    2.438095238, 2.609342404, 3.482993197, 4.684625850, 4.728163265, 5.700498866, 5.868843537,
    6.217142857, 6.266485261, 6.385487528, 6.713469388, 7.439092971, 7.471020408, 8.182131519,
    8.405623583, 8.852607710, 9.232834467, 9.505668934, 9.665306122, 9.830748299,
};

static void the_published_onset_scores_come_out(void **state)
{
    (void)state;
    /* 50 ms: tests/data/onset/output00.json; the others computed with mir_eval's formulas. */
    static const struct {
        double tolerance;
        size_t hits;
        double precision, recall, f;
    } rows[] = {
        { 0.05, 13, 0.4814814815, 0.5909090909, 0.5306122449 },
        { 0.025, 2, 0.0740740741, 0.0909090909, 0.0816326531 },
        { 0.10, 19, 0.7037037037, 0.8636363636, 0.7755102041 },
    };
    struct label labels[COUNT(ref00)];
    for (size_t i = 0; i < COUNT(ref00); i++)
        labels[i] = (struct label){ .event = { .kind = TC_CRACK, .start_ms = (int64_t)floor(1000 * ref00[i] + 0.5) } };
    for (size_t i = 0; i < COUNT(rows); i++) {
        assert_int_equal(score_match(ref00, COUNT(ref00), est00, COUNT(est00), rows[i].tolerance, NULL),
                         rows[i].hits);
        struct score s = { 0 };
        assert_int_equal(score_add_cracks(&s, labels, COUNT(labels), est00, COUNT(est00), rows[i].tolerance), TC_OK);
        assert_near(score_precision(&s), rows[i].precision, 1e-9);
        assert_near(score_recall(&s), rows[i].recall, 1e-9);
        assert_near(score_f(&s), rows[i].f, 1e-9);
        score_clear(&s);
    }
}

static void matching_is_one_to_one_and_as_large_as_can_be(void **state)
{
    (void)state;
    static const struct {
        const char *what;
        double reference[4], estimate[6];
        size_t references, estimates;
        double tolerance;
        size_t count;
        struct score_pair pairs[3];
    } rows[] = {
        { "mir_eval, tests/test_util.py: match_events", { 1, 2, 3 }, { 1.1, 1.9, 5, 6, 10 }, 3, 5, 0.5, 2,
          { { 0, 0 }, { 1, 1 } } },
        { "nearest-first would pair 1.06 with 1.03 and lose one", { 1.00, 1.06 }, { 1.03, 1.10 }, 2, 2, 0.05, 2,
          { { 0, 0 }, { 1, 1 } } },
        { "a doubled estimate counts once", { 1 }, { 0.99, 1.01 }, 1, 2, 0.05, 1, { { 0, 0 } } },
        { "exactly the tolerance counts", { 1.00, 7.00 }, { 1.05, 7.051 }, 2, 2, 0.05, 1, { { 0, 0 } } },
        { "nothing to find", { 0 }, { 1, 2 }, 0, 2, 0.05, 0, { { 0, 0 } } },
        { "nothing found", { 1, 2 }, { 0 }, 2, 0, 0.05, 0, { { 0, 0 } } },
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        struct score_pair pairs[6];
        size_t n = score_match(rows[i].reference, rows[i].references, rows[i].estimate,
                               rows[i].estimates, rows[i].tolerance, pairs);
        if (n != rows[i].count) fail_msg("%s: %zu pairs, expected %zu", rows[i].what, n, rows[i].count);
        for (size_t k = 0; k < n; k++)
            if (memcmp(&pairs[k], &rows[i].pairs[k], sizeof *pairs)) fail_msg("%s: pair %zu", rows[i].what, k);
    }
}

/* The most pairs there can be, by trying all. */
static size_t most_pairs(const double *r, size_t rn, const double *e, size_t en, unsigned used)
{
    if (!rn) return 0;
    size_t best = most_pairs(r + 1, rn - 1, e, en, used);
    for (size_t k = 0; k < en; k++) {
        if ((used >> k & 1) || fabs(r[0] - e[k]) > 0.05) continue;
        size_t n = 1 + most_pairs(r + 1, rn - 1, e, en, used | 1u << k);
        best = n > best ? n : best;
    }
    return best;
}

static int by_size(const void *a, const void *b)
{
    return *(const double *)a < *(const double *)b ? -1 : *(const double *)a > *(const double *)b;
}

static void no_other_matching_finds_more(void **state)
{
    (void)state;
    uint32_t seed = 1;
    for (int round = 0; round < 2000; round++) {
        double r[6], e[6];
        for (size_t i = 0; i < 12; i++) {
            seed = seed * 1664525u + 1013904223u;
            (i < 6 ? r : e)[i % 6] = (seed >> 8) * 0.3 / (1 << 24);
        }
        qsort(r, 6, sizeof *r, by_size);
        qsort(e, 6, sizeof *e, by_size);
        assert_int_equal(score_match(r, 6, e, 6, 0.05, NULL), most_pairs(r, 6, e, 6, 0));
    }
}

static struct label crack(int64_t ms, int weight)
{
    return (struct label){ .event = { .kind = TC_CRACK, .start_ms = ms, .end_ms = ms }, .weight = weight };
}

static void doubtful_labels_neither_help_nor_harm(void **state)
{
    (void)state;
    const struct label labels[] = { crack(1000, 3), crack(1080, 1), crack(3000, 1), crack(5000, 2) };
    const double estimates[] = { 1.04, 1.06, 3.01, 7.0 };
    struct score s = { 0 };
    assert_int_equal(score_add_cracks(&s, labels, COUNT(labels), estimates, COUNT(estimates), 0.05), TC_OK);
    assert_int_equal(s.hits, 1);          /* 1.04 for 1.000 */
    assert_int_equal(s.misses, 1);        /* 5.000 */
    assert_int_equal(s.doubtful_hits, 2); /* 1.06 for 1.080, 3.01 for 3.000 */
    assert_int_equal(s.false_alarms, 1);  /* 7.0 */
    assert_int_equal(s.sure, 1);
    assert_int_equal(s.sure_hits, 1);
    assert_near(score_error(&s, 0.5), 0.04, 1e-9);
    score_clear(&s);

    size_t label_of[COUNT(estimates)];
    assert_int_equal(score_pair_cracks(labels, COUNT(labels), estimates, COUNT(estimates), 0.05, label_of), TC_OK);
    assert_int_equal(label_of[0], 0);
    assert_int_equal(label_of[1], 1);
    assert_int_equal(label_of[2], 2);
    assert_true(label_of[3] == SCORE_NONE);
}

static void nothing_scores_zero_as_in_mir_eval(void **state)
{
    (void)state;
    struct score s = { 0 };
    assert_near(score_precision(&s) + score_recall(&s) + score_f(&s) + score_rumble_f(&s), 0, 0);
    assert_near(score_error(&s, 0.5), 0, 0);
}

static void errors_have_their_median_and_95th_percentile(void **state)
{
    (void)state;
    /* numpy.percentile([5, 1, 2, 9] ms, [50, 95]) = 3.5, 8.4 */
    const struct label labels[] = { crack(1000, 2), crack(2000, 2), crack(3000, 0), crack(4000, 3) };
    const double estimates[] = { 1.005, 1.999, 3.002, 3.991 };
    struct score one = { 0 }, sum = { 0 };
    assert_int_equal(score_add_cracks(&one, labels, COUNT(labels), estimates, COUNT(estimates), 0.05), TC_OK);
    assert_int_equal(score_add(&sum, &one), TC_OK);
    assert_near(score_error(&sum, 0.50), 0.0035, 1e-9);
    assert_near(score_error(&sum, 0.95), 0.0084, 1e-9);
    assert_near(score_error(&sum, 1.00), 0.009, 1e-9);
    score_clear(&one);
    score_clear(&sum);
}

static void rumbles_are_scored_over_tenths_of_a_second(void **state)
{
    (void)state;
    /* sed_eval's segment counts by hand: labelled 0.2..1.0 (8 steps), heard 0.5..1.2 (7), 5 in common */
    const struct label labels[] = { crack(300, 2),
                                    { .event = { .kind = TC_RUMBLE, .start_ms = 200, .end_ms = 1000 } } };
    const struct tc_event events[] = { { .kind = TC_CRACK, .start_ms = 300, .end_ms = 300 },
                                       { .kind = TC_RUMBLE, .start_ms = 500, .end_ms = 1200 } };
    struct score s = { 0 };
    assert_int_equal(score_add_rumbles(&s, labels, COUNT(labels), events, COUNT(events), 2000), TC_OK);
    assert_int_equal(s.steps_both, 5);
    assert_int_equal(s.steps_heard, 2);
    assert_int_equal(s.steps_labelled, 3);
    assert_near(score_rumble_f(&s), 10.0 / 15.0, 1e-12);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_published_onset_scores_come_out),
        cmocka_unit_test(matching_is_one_to_one_and_as_large_as_can_be),
        cmocka_unit_test(no_other_matching_finds_more),
        cmocka_unit_test(doubtful_labels_neither_help_nor_harm),
        cmocka_unit_test(nothing_scores_zero_as_in_mir_eval),
        cmocka_unit_test(errors_have_their_median_and_95th_percentile),
        cmocka_unit_test(rumbles_are_scored_over_tenths_of_a_second),
    };
    return cmocka_run_group_tests_name("score", tests, NULL, NULL);
}
