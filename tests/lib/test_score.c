/* Scoring against what mir_eval and sed_eval publish. */
#include "check.h"

#include "cases.h"
#include "marks/match.h"
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

/* The pairs there are without doubtful labels. */
static size_t match(const double *reference, size_t references, const double *estimate, size_t estimates, double tolerance,
                    size_t (*pairs)[2])
{
    size_t partner[32], n = 0;
    assert_true(estimates <= COUNT(partner));
    assert_int_equal(match_times((struct match_list){ reference, references }, (struct match_list){ NULL, 0 },
                                 (struct match_list){ estimate, estimates }, tolerance, partner), TC_OK);
    for (size_t e = 0; e < estimates; e++) {
        if (partner[e] == MATCH_NONE) continue;
        if (pairs) pairs[n][0] = partner[e], pairs[n][1] = e;
        n++;
    }
    return n;
}

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
        assert_int_equal(match(ref00, COUNT(ref00), est00, COUNT(est00), rows[i].tolerance, NULL), rows[i].hits);
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
        size_t pairs[3][2];
    } rows[] = {
        { "mir_eval, tests/test_util.py: match_events", { 1, 2, 3 }, { 1.1, 1.9, 5, 6, 10 }, 3, 5, 0.5, 2,
          { { 0, 0 }, { 1, 1 } } },
        { "nearest-first would pair 1.06 with 1.03 and lose one", { 1.00, 1.06 }, { 1.03, 1.10 }, 2, 2, 0.05, 2,
          { { 0, 0 }, { 1, 1 } } },
        { "a doubled estimate counts once", { 1 }, { 0.99, 1.01 }, 1, 2, 0.05, 1, { { 0, 0 } } },
        { "the better of two near ones", { 1 }, { 0.955, 1 }, 1, 2, 0.05, 1, { { 0, 1 } } },
        { "no better one at the cost of a pair", { 1, 1.05 }, { 0.99, 1.001 }, 2, 2, 0.05, 2, { { 0, 0 }, { 1, 1 } } },
        { "exactly the tolerance counts", { 1.00, 7.00 }, { 1.05, 7.051 }, 2, 2, 0.05, 1, { { 0, 0 } } },
        { "nothing to find", { 0 }, { 1, 2 }, 0, 2, 0.05, 0, { { 0, 0 } } },
        { "nothing found", { 1, 2 }, { 0 }, 2, 0, 0.05, 0, { { 0, 0 } } },
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        size_t pairs[6][2];
        size_t n = match(rows[i].reference, rows[i].references, rows[i].estimate, rows[i].estimates, rows[i].tolerance, pairs);
        if (n != rows[i].count) fail_msg("%s: %zu pairs, expected %zu", rows[i].what, n, rows[i].count);
        for (size_t k = 0; k < n; k++)
            if (pairs[k][0] != rows[i].pairs[k][0] || pairs[k][1] != rows[i].pairs[k][1]) fail_msg("%s: pair %zu", rows[i].what, k);
    }
}

/* What a matching is worth, errors in ms. */
struct worth {
    int hits, error, forgiven;
};

static bool worth_more(struct worth a, struct worth b)
{
    if (a.hits != b.hits) return a.hits > b.hits;
    return a.error != b.error ? a.error < b.error : a.forgiven > b.forgiven;
}

/* Small cases in ms, the first REQUIRED labels required, the others doubtful, each list rising. */
enum { REQUIRED = 4, LABELS = 7, ESTIMATES = 5, TOLERANCE = 50 };

/* By definition: the best of all ways to give each estimate from `e` on one of the unused labels near it, or none. */
static struct worth best_of_all(const int *label, const int *estimate, int e, unsigned used)
{
    if (e == ESTIMATES) return (struct worth){ 0, 0, 0 };
    struct worth best = best_of_all(label, estimate, e + 1, used);
    for (int l = 0; l < LABELS; l++) {
        int off = abs(label[l] - estimate[e]);
        if ((used >> l & 1) || off > TOLERANCE) continue;
        struct worth w = best_of_all(label, estimate, e + 1, used | 1u << l);
        if (l < REQUIRED) w.hits++, w.error += off;
        else w.forgiven++;
        if (worth_more(w, best)) best = w;
    }
    return best;
}

static int by_size(const void *a, const void *b)
{
    return *(const int *)a - *(const int *)b;
}

static void no_other_matching_is_better(void **state)
{
    (void)state;
    uint32_t seed = 1;
    int ties = 0;
    for (int round = 0; round < cases(3000, 300); round++) {
        int label[LABELS], estimate[ESTIMATES], coarse = round % 2 ? 10 : 1; /* steps of 10 ms make ties */
        double at[LABELS], heard[ESTIMATES];
        for (int i = 0; i < LABELS + ESTIMATES; i++) {
            seed = seed * 1664525u + 1013904223u;
            *(i < LABELS ? &label[i] : &estimate[i - LABELS]) = (int)((seed >> 8) % (250 + 100 * (unsigned)(round % 3))) / coarse * coarse;
        }
        qsort(label, REQUIRED, sizeof *label, by_size);
        qsort(label + REQUIRED, LABELS - REQUIRED, sizeof *label, by_size);
        qsort(estimate, ESTIMATES, sizeof *estimate, by_size);
        for (int i = 0; i < LABELS; i++) at[i] = label[i] / 1000.0;
        for (int i = 0; i < ESTIMATES; i++) heard[i] = estimate[i] / 1000.0;

        size_t partner[ESTIMATES];
        assert_int_equal(match_times((struct match_list){ at, REQUIRED }, (struct match_list){ at + REQUIRED, LABELS - REQUIRED },
                                     (struct match_list){ heard, ESTIMATES }, TOLERANCE / 1000.0, partner), TC_OK);
        struct worth got = { 0, 0, 0 }, want = best_of_all(label, estimate, 0, 0);
        unsigned used = 0;
        for (int e = 0; e < ESTIMATES; e++) {
            if (partner[e] == MATCH_NONE) continue;
            assert_true(partner[e] < LABELS && !(used >> partner[e] & 1));
            used |= 1u << partner[e];
            int off = abs(label[partner[e]] - estimate[e]);
            assert_true(off <= TOLERANCE);
            if (partner[e] < REQUIRED) got.hits++, got.error += off;
            else got.forgiven++;
        }
        if (worth_more(want, got) || worth_more(got, want))
            fail_msg("round %d: %d hits, %d ms, %d forgiven; the best is %d, %d ms, %d", round, got.hits, got.error,
                     got.forgiven, want.hits, want.error, want.forgiven);
        ties += want.hits && want.forgiven;
    }
    assert_true(ties > 100); /* both kinds of label had a part */
}

/* 80,000 marks, every 7 ms, half of them doubtful. */
static void many_marks_are_matched_each_to_its_own(void **state)
{
    (void)state;
    enum { MANY = 80000, HALF = MANY / 2 };
    double *label = calloc(MANY, sizeof *label), *estimate = calloc(MANY, sizeof *estimate);
    size_t *partner = calloc(MANY, sizeof *partner);
    assert_true(label && estimate && partner);
    for (size_t i = 0; i < MANY; i++) {
        label[i % 2 * HALF + i / 2] = 0.007 * (double)i;
        estimate[i] = 0.007 * (double)i + 0.003;
    }
    assert_int_equal(match_times((struct match_list){ label, HALF }, (struct match_list){ label + HALF, HALF },
                                 (struct match_list){ estimate, MANY }, 0.05, partner), TC_OK);
    for (size_t i = 0; i < MANY; i++)
        if (partner[i] != i % 2 * HALF + i / 2) fail_msg("estimate %zu: label %zu", i, partner[i]);
    free(label);
    free(estimate);
    free(partner);
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

/* What the nearer estimate leaves is the doubtful one's. */
static void a_required_label_takes_the_nearer_of_two(void **state)
{
    (void)state;
    const struct label labels[] = { crack(930, 1), crack(1000, 2) };
    const double estimates[] = { 0.955, 1.000 };
    for (size_t from = 0; from < 2; from++) { /* with the doubtful one, and without */
        struct score s = { 0 };
        assert_int_equal(score_add_cracks(&s, labels + from, 2 - from, estimates, 2, 0.05), TC_OK);
        assert_int_equal(s.hits, 1);
        assert_int_equal(s.misses, 0);
        assert_int_equal(s.false_alarms, from);
        assert_int_equal(s.doubtful_hits, 1 - from);
        assert_near(score_error(&s, 1), 0, 1e-9);
        score_clear(&s);
    }
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
        cmocka_unit_test(no_other_matching_is_better),
        cmocka_unit_test(many_marks_are_matched_each_to_its_own),
        cmocka_unit_test(doubtful_labels_neither_help_nor_harm),
        cmocka_unit_test(a_required_label_takes_the_nearer_of_two),
        cmocka_unit_test(nothing_scores_zero_as_in_mir_eval),
        cmocka_unit_test(errors_have_their_median_and_95th_percentile),
        cmocka_unit_test(rumbles_are_scored_over_tenths_of_a_second),
    };
    return cmocka_run_group_tests_name("score", tests, NULL, NULL);
}
