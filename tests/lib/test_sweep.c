/* What every sensitivity finds, and what labels can tell of them. */
#include "check.h"

#include "marks/sweep_choice.h"
#include "words/memory.h"

static struct label crack(int64_t ms, int weight)
{
    return (struct label){ .event = { .kind = TC_CRACK, .start_ms = ms, .end_ms = ms, .peak_ms = ms }, .weight = weight };
}

static struct label rumble(int64_t from_ms, int64_t to_ms)
{
    return (struct label){ .event = { .kind = TC_RUMBLE, .start_ms = from_ms, .end_ms = to_ms, .peak_ms = from_ms } };
}

/* As many marks as an array holds, in memory of their own. */
static struct marks marks_of(const struct label *labels, size_t count)
{
    struct marks m = { .sensitivity = -1, .count = count };
    m.labels = memory_new(count + 1, sizeof *m.labels);
    assert_non_null(m.labels);
    if (count) memcpy(m.labels, labels, count * sizeof *labels);
    return m;
}

/* Cracks a second apart, of which the first counts from found_at[0] on. */
static struct tc_analysis heard_of(const float *found_at, size_t count)
{
    struct tc_analysis a = { .length_ms = 60000, .sample_rate = 48000, .candidate_count = count };
    a.candidates = memory_new(count + 1, sizeof *a.candidates);
    assert_non_null(a.candidates);
    for (size_t i = 0; i < count; i++)
        a.candidates[i] = (struct tc_candidate){ .at_ms = 1000 * (int64_t)(i + 1), .found_at = found_at[i] };
    return a;
}

static struct sweep sweep_of(const float *found_at, size_t count, const struct label *labels, size_t label_count,
                             double now)
{
    struct sweep t = sweep_empty();
    struct tc_analysis heard = heard_of(found_at, count);
    struct marks m = marks_of(labels, label_count);
    assert_int_equal(sweep_take(&t, &heard, labels ? &m : NULL, PART_WHOLE, now), TC_OK);
    marks_clear(&m);
    tc_analysis_clear(&heard);
    return t;
}

static const float steps[] = { 10, 30, 50, 50.5f, 70 };

static void a_crack_counts_from_its_own_sensitivity_on(void **state)
{
    (void)state;
    struct sweep t = sweep_of(steps, COUNT(steps), NULL, 0, 50);
    for (size_t r = 0; r < SWEEP_ROWS; r++) {
        size_t want = 0;
        for (size_t i = 0; i < COUNT(steps); i++) want += (double)steps[i] <= (double)(5 * r);
        assert_int_equal(t.rows[r].cracks, want);
    }
    assert_int_equal(sweep_next_lower(&t, 10), 9);     /* 45: two of three */
    assert_int_equal(sweep_next_higher(&t, 10), 11);   /* 55: four */
    assert_int_equal(sweep_next_lower(&t, 9), 5);      /* 25: 30 to 45 are alike */
    assert_int_equal(sweep_next_lower(&t, 1), 1);      /* nothing below */
    assert_int_equal(sweep_next_higher(&t, 14), 14);   /* nothing above */
    size_t first = 0, last = 0;
    assert_true(sweep_longest_alike(&t, &first, &last)); /* 10 to 25 and 30 to 45: the nearer to the middle */
    assert_int_equal(first, 6);
    assert_int_equal(last, 9);
    assert_int_equal(sweep_choose(&t, 50).verdict, SWEEP_NO_LABELS);
    sweep_clear(&t);

    t = sweep_of(steps, 1, NULL, 0, 50);
    assert_false(sweep_longest_alike(&t, &first, &last)); /* goes on to both ends */
    sweep_clear(&t);
}

static void labels_as_heard_are_noticed(void **state)
{
    (void)state;
    static const struct {
        const char *what;
        size_t count;
        double says, now, at;
    } rows[] = {
        { "what 50 hears", 3, -1, 50, 50 },
        { "what 50 hears, by a file that says so", 3, 50.2, 60, 50.2 },
        { "what 50 hears, asked at 70", 3, -1, 70, 50 },
        { "all", 5, -1, 85, 85 },
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        struct label labels[6];
        for (size_t k = 0; k < rows[i].count; k++) labels[k] = crack(1000 * (int64_t)(k + 1), 2);
        struct sweep t = sweep_empty();
        struct tc_analysis heard = heard_of(steps, COUNT(steps));
        struct marks m = marks_of(labels, rows[i].count);
        m.sensitivity = rows[i].says;
        assert_int_equal(sweep_take(&t, &heard, &m, PART_WHOLE, rows[i].now), TC_OK);
        if (fabs(t.as_heard_at - rows[i].at) > 1e-6) fail_msg("%s: %g", rows[i].what, t.as_heard_at);
        assert_int_equal(t.labels_as_heard, rows[i].count);
        assert_int_equal(sweep_choose(&t, rows[i].now).verdict, SWEEP_AS_HEARD);
        sweep_clear(&t);
        tc_analysis_clear(&heard);
    }
    struct tc_analysis heard = heard_of(steps, COUNT(steps));
    struct marks m = marks_of((struct label[]){ crack(1000, 0), crack(2000, 0), crack(3000, 0) }, 3);
    struct sweep cut = sweep_empty();
    m.sensitivity = 70; /* at which there were two more: they were deleted */
    assert_int_equal(sweep_take(&cut, &heard, &m, PART_WHOLE, 50), TC_OK);
    assert_true(cut.as_heard_at < 0);
    sweep_clear(&cut);
    tc_analysis_clear(&heard);

    const struct label corrected[][3] = {
        { crack(1000, 2), crack(2001, 2), crack(3000, 2) },  /* moved by a millisecond */
        { crack(1000, 2), crack(2000, 3), crack(3000, 2) },  /* weighed */
        { crack(1000, 2), crack(3000, 2), crack(5000, 2) },  /* some deleted, others kept */
        { crack(1000, 2), crack(2000, 2), crack(2500, 2) },  /* one of his own */
    };
    for (size_t i = 0; i < COUNT(corrected); i++) {
        struct sweep t = sweep_of(steps, COUNT(steps), corrected[i], 3, 50);
        if (t.as_heard_at >= 0 || t.labels_as_heard) fail_msg("corrected %zu", i);
        sweep_clear(&t);
    }
}

/* ---- The choice, from counts ---- */

struct counts {
    size_t hits, false_alarms;
};

/* Rows as if so many of `required` were found: the first from 0 on, the next from
 * the sensitivity before it on, and so forth. */
static struct sweep counted(size_t required, const struct counts *rows)
{
    struct sweep t = sweep_empty();
    t.recordings = t.labelled = 1;
    for (size_t r = 0; r < SWEEP_ROWS; r++) {
        t.rows[r].score.hits = rows[r].hits;
        t.rows[r].score.misses = required - rows[r].hits;
        t.rows[r].score.false_alarms = rows[r].false_alarms;
        t.rows[r].cracks = rows[r].hits + rows[r].false_alarms;
        t.rows[r].unlabelled = required && rows[r].false_alarms > rows[r].hits ? rows[r].false_alarms : 0;
    }
    return t;
}

static void fill(struct counts *rows, size_t from, size_t to, size_t hits, size_t false_alarms)
{
    for (size_t r = from; r <= to; r++) rows[r] = (struct counts){ hits, false_alarms };
}

static void few_labels_choose_nothing(void **state)
{
    (void)state;
    /* Three labels of twenty cracks: 0 has the best F, and 50 would be clearly worse by McNemar's test. */
    struct counts rows[SWEEP_ROWS];
    fill(rows, 0, 4, 3, 1);
    fill(rows, 5, SWEEP_ROWS - 1, 3, 17);
    struct sweep t = counted(3, rows);
    struct sweep_choice c = sweep_choose(&t, 50);
    assert_int_equal(c.verdict, SWEEP_FEW);
    assert_int_equal(c.taken, 10);
    assert_int_equal(c.best, 2);          /* the middle of 0 to 20 */
    assert_true(c.incomplete);
    assert_int_equal(c.unlabelled, 17);
    assert_int_equal(c.heard, 20);
}

static void what_is_called_best_has_the_best_f(void **state)
{
    (void)state;
    /* F 0.8815, 0.8912, 0.9000: neighbours differ by less than 0.01, the ends by more. */
    struct counts rows[SWEEP_ROWS];
    fill(rows, 0, 7, 40, 0);
    fill(rows, 8, 8, 93, 18);
    fill(rows, 9, 11, 95, 18);
    fill(rows, 12, 12, 97, 18);
    fill(rows, 13, SWEEP_ROWS - 1, 97, 60);
    struct sweep t = counted(100, rows);
    struct sweep_choice c = sweep_choose(&t, 40);
    assert_int_equal(c.best, 12);
    assert_int_equal(c.verdict, SWEEP_MOVE); /* 4 cracks more, none wrong: (4 - 0)^2 / 4 = 4 > 3.84 */
    assert_int_equal(c.taken, 12);
    c = sweep_choose(&t, 45);
    assert_int_equal(c.verdict, SWEEP_UNSURE); /* 2 more: 2 < 3.84 */
    assert_int_equal(c.taken, 9);
    assert_int_equal(c.best, 12);
    assert_int_equal(c.alike_first, 9);
    assert_int_equal(sweep_choose(&t, 60).verdict, SWEEP_FITS);
}

/* McNemar, Psychometrika 12 (1947): (b - c)^2 / (b + c) against the 95th percentile of chi-square, 3.84. */
static void it_moves_where_the_test_says_so(void **state)
{
    (void)state;
    static const struct { size_t right, wrong; enum sweep_verdict verdict; } rows[] = {
        { 3, 0, SWEEP_UNSURE }, /* 3.00 */
        { 4, 0, SWEEP_MOVE },   /* 4.00 */
        { 8, 2, SWEEP_UNSURE }, /* 3.60 */
        { 9, 2, SWEEP_MOVE },   /* 4.45 */
        { 12, 5, SWEEP_UNSURE }, /* 2.88 */
        { 15, 5, SWEEP_MOVE },  /* 5.00 */
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        struct counts counts[SWEEP_ROWS];
        fill(counts, 0, 10, 20, 2);
        fill(counts, 11, 11, 20 + rows[i].right, 2 + rows[i].wrong);
        fill(counts, 12, SWEEP_ROWS - 1, 40, 400);
        struct sweep t = counted(40, counts);
        struct sweep_choice c = sweep_choose(&t, 50);
        if (c.verdict != rows[i].verdict || c.best != 11) fail_msg("%zu: verdict %d, best %zu", i, (int)c.verdict, c.best);
    }
}

static void doubts_come_before_the_best(void **state)
{
    (void)state;
    static const struct { size_t required, hits, wrong; enum sweep_verdict verdict; } rows[] = {
        { 0, 0, 5, SWEEP_NO_CRACKS },  { 9, 9, 0, SWEEP_FEW },     { 10, 10, 0, SWEEP_FITS },
        { 12, 12, 12, SWEEP_FITS },    { 12, 12, 13, SWEEP_INCOMPLETE }, { 12, 0, 30, SWEEP_ASTRAY },
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        struct counts counts[SWEEP_ROWS];
        fill(counts, 0, SWEEP_ROWS - 1, rows[i].hits, rows[i].wrong);
        struct sweep t = counted(rows[i].required, counts);
        struct sweep_choice c = sweep_choose(&t, 50);
        if (c.verdict != rows[i].verdict) fail_msg("%zu: verdict %d", i, (int)c.verdict);
        assert_int_equal(c.taken, 10);
    }
}

/* ---- Which ---- */

static void what_is_missed_and_what_has_no_label_are_told(void **state)
{
    (void)state;
    const struct label labels[] = { rumble(500, 4000), crack(1010, 2), crack(2200, 3), crack(2500, 1), crack(5000, 0) };
    struct sweep t = sweep_of(steps, COUNT(steps), labels, COUNT(labels), 50);
    size_t missed[8], misses = 0, others = 0;
    int64_t unlabelled[8];
    assert_int_equal(sweep_tell(&t, 10, missed, &misses, unlabelled, &others), TC_OK);
    assert_int_equal(misses, 2);
    assert_int_equal(missed[0], 2);   /* 2.2 s */
    assert_int_equal(missed[1], 4);   /* 5 s counts from 70 on */
    assert_int_equal(others, 2);
    assert_int_equal(unlabelled[0], 2000);
    assert_int_equal(unlabelled[1], 3000);
    assert_int_equal(misses, t.rows[10].score.misses);
    assert_int_equal(others, t.rows[10].score.false_alarms);
    sweep_clear(&t);
}

static void a_part_has_what_lies_in_it(void **state)
{
    (void)state;
    const struct label labels[] = { rumble(500, 4000), crack(1000, 2), crack(2000, 2), crack(4000, 2), rumble(4000, 9000) };
    const struct part part = { 2000, 4000 };
    struct marks m = marks_of(labels, COUNT(labels));
    struct tc_analysis heard = heard_of(steps, COUNT(steps));
    struct sweep t = sweep_empty();
    assert_int_equal(sweep_take(&t, &heard, &m, part, 50), TC_OK);
    assert_int_equal(t.marks.count, 2);
    assert_int_equal(t.marks.labels[0].event.start_ms, 2000);
    assert_int_equal(t.marks.labels[0].event.end_ms, 4000);
    assert_int_equal(t.marks.labels[1].event.start_ms, 2000);
    assert_int_equal(t.heard_count, 2);
    assert_int_equal(t.length_ms, 2000);
    assert_int_equal(t.rows[SWEEP_ROWS - 1].cracks, 2);
    assert_int_equal(sweep_required(&t), 1);
    assert_int_equal(part_length_ms(PART_WHOLE, 7000), 7000);
    assert_int_equal(part_length_ms((struct part){ 6000, 9000 }, 7000), 1000);
    assert_int_equal(part_length_ms((struct part){ 8000, 9000 }, 7000), 0);
    sweep_clear(&t);
    tc_analysis_clear(&heard);
}

static void a_sum_adds_up(void **state)
{
    (void)state;
    const struct label labels[] = { crack(1000, 2), crack(2000, 2), crack(3000, 2) };
    struct sweep sum = sweep_empty(), one = sweep_of(steps, COUNT(steps), labels, COUNT(labels), 50);
    struct sweep bare = sweep_of(steps, COUNT(steps), NULL, 0, 50);
    assert_int_equal(sweep_add(&sum, &one), TC_OK);
    assert_int_equal(sweep_add(&sum, &bare), TC_OK);
    assert_int_equal(sum.recordings, 2);
    assert_int_equal(sum.labelled, 1);
    assert_int_equal(sum.length_ms, 120000);
    assert_int_equal(sum.labels_as_heard, 3);
    assert_int_equal(sum.rows[10].cracks, 6);
    assert_int_equal(sum.rows[10].score.hits, 3);
    assert_int_equal(sweep_required(&sum), 3);
    assert_int_equal(sum.rows[10].unlabelled, 0);
    assert_false(sweep_choose(&sum, 50).incomplete);
    struct sweep lacking = sweep_of(steps, COUNT(steps), labels, 1, 50); /* one label of three cracks */
    assert_int_equal(lacking.rows[10].unlabelled, 2);
    assert_int_equal(lacking.rows[2].unlabelled, 0);
    assert_true(sweep_choose(&lacking, 50).incomplete);
    assert_int_equal(sweep_add(&sum, &lacking), TC_OK);
    assert_true(sweep_choose(&sum, 50).incomplete); /* 2 of 6: both in one recording */
    sweep_clear(&lacking);
    sweep_clear(&one);
    sweep_clear(&bare);
    sweep_clear(&sum);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_crack_counts_from_its_own_sensitivity_on),
        cmocka_unit_test(labels_as_heard_are_noticed),
        cmocka_unit_test(few_labels_choose_nothing),
        cmocka_unit_test(what_is_called_best_has_the_best_f),
        cmocka_unit_test(it_moves_where_the_test_says_so),
        cmocka_unit_test(doubts_come_before_the_best),
        cmocka_unit_test(what_is_missed_and_what_has_no_label_are_told),
        cmocka_unit_test(a_part_has_what_lies_in_it),
        cmocka_unit_test(a_sum_adds_up),
    };
    return cmocka_run_group_tests_name("sweep", tests, NULL, NULL);
}
