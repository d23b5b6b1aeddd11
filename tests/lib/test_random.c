/* The generator against its published sequence, and its distributions against
 * theirs (Kolmogorov-Smirnov, 1 % critical value). */
#include "check.h"
#include "ks.h"

#include "words/random.h"

enum { DRAWS = 20000 };

/* Source: SplitMix64 (Steele, Lea & Flood 2014); the first values for the
 * state 1234567, as published with many implementations (from memory). */
static void the_sequence_is_splitmix64(void **state)
{
    (void)state;
    static const uint64_t want[] = { 6457827717110365317u, 3203168211198807973u, 9817491932198370423u,
                                     4593380528125082431u, 16408922859458223821u };
    struct randomiser r = { 1234567 };
    for (size_t i = 0; i < COUNT(want); i++) assert_true(random_next(&r) == want[i]);
}

static double uniform_cdf(double x, const void *unused)
{
    (void)unused;
    return x < 0 ? 0 : x > 1 ? 1 : x;
}

static double normal_cdf(double x, const void *unused)
{
    (void)unused;
    return 0.5 * erfc(-x / sqrt(2));
}

static void draws_follow_their_distributions(void **state)
{
    (void)state;
    static double sample[DRAWS];
    struct randomiser r = random_keyed(1, 2, 3);
    for (int i = 0; i < DRAWS; i++) sample[i] = random_uniform(&r);
    assert_true(ks_distance(sample, DRAWS, uniform_cdf, NULL) < ks_critical(DRAWS));
    for (int i = 0; i < DRAWS; i++) sample[i] = random_normal(&r);
    assert_true(ks_distance(sample, DRAWS, normal_cdf, NULL) < ks_critical(DRAWS));
    struct lognormal ln = { 60, 0.32 };
    for (int i = 0; i < DRAWS; i++) sample[i] = random_lognormal(&r, ln.mean, ln.decades);
    assert_true(ks_distance(sample, DRAWS, lognormal_cdf, &ln) < ks_critical(DRAWS));
    double p = 0.303;
    for (int i = 0; i < DRAWS; i++) sample[i] = random_geometric(&r, p, 1000);
    assert_true(ks_distance_whole(sample, DRAWS, geometric_cdf, &p) < ks_critical(DRAWS));
}

/* The check must be able to fail: slightly wrong distributions are found out. */
static void the_check_finds_wrong_distributions(void **state)
{
    (void)state;
    static double sample[DRAWS];
    struct randomiser r = random_keyed(1, 2, 4);
    struct lognormal wrong = { 62.5, 0.32 };
    for (int i = 0; i < DRAWS; i++) sample[i] = random_lognormal(&r, 60, 0.32);
    assert_true(ks_distance(sample, DRAWS, lognormal_cdf, &wrong) > ks_critical(DRAWS));
    double p = 0.32;
    for (int i = 0; i < DRAWS; i++) sample[i] = random_geometric(&r, 0.303, 1000);
    assert_true(ks_distance_whole(sample, DRAWS, geometric_cdf, &p) > ks_critical(DRAWS));
}

/* Streams of neighbouring keys have nothing to do with each other. */
static void streams_of_neighbours_differ(void **state)
{
    (void)state;
    static double sample[DRAWS];
    for (int what = 0; what < 3; what++) {
        double product = 0, before = 0;
        for (int i = 0; i < DRAWS; i++) {
            struct randomiser r = random_keyed(7, (uint64_t)what, (uint64_t)i);
            sample[i] = random_uniform(&r);
            product += (sample[i] - 0.5) * (before - 0.5);
            before = sample[i];
        }
        /* Correlation of neighbours: its standard error is 1 / sqrt(n). */
        assert_near(product / DRAWS * 12, 0, 4 / sqrt(DRAWS));
        assert_true(ks_distance(sample, DRAWS, uniform_cdf, NULL) < ks_critical(DRAWS));
    }
}

static void below_reaches_all_and_no_more(void **state)
{
    (void)state;
    struct randomiser r = random_keyed(1, 1, 1);
    int seen[7] = { 0 };
    for (int i = 0; i < 7000; i++) {
        uint32_t k = random_below(&r, 7);
        assert_in_range(k, 0, 6);
        seen[k]++;
    }
    for (size_t i = 0; i < COUNT(seen); i++) assert_near(seen[i], 1000, 120);
    assert_int_equal(random_below(&r, 1), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_sequence_is_splitmix64),
        cmocka_unit_test(draws_follow_their_distributions),
        cmocka_unit_test(the_check_finds_wrong_distributions),
        cmocka_unit_test(streams_of_neighbours_differ),
        cmocka_unit_test(below_reaches_all_and_no_more),
    };
    return cmocka_run_group_tests_name("random", tests, NULL, NULL);
}
