/* How soon a card is missed, by simulated cards: regular ones soon, those of a
 * busy machine later, and none for its usual pauses. */
#include "check.h"

#include "io/sound/sound_pace.h"
#include "words/random.h"

/* Takes pieces until `until_s`, each up to `late_s` late. The most that it may wait then. */
static double run(struct sound_pace *p, double *at_s, double until_s, double piece_s, double late_s, struct randomiser *r)
{
    for (; *at_s < until_s; *at_s += piece_s) {
        double told = *at_s + late_s * random_uniform(r);
        if (p->begun && told - p->told_s >= sound_pace_s(p)) fail_msg("missed after %.0f ms", 1000 * (told - p->told_s));
        sound_pace_tell(p, told, piece_s);
    }
    return sound_pace_s(p);
}

static void regular_cards_are_missed_within_a_tenth_of_a_second(void **state)
{
    (void)state;
    static const struct { double piece_s, late_s, most_s; } cards[] = {
        { 0.003, 0.001, 0.06 }, { 0.010, 0.004, 0.07 }, { 1024 / 48000.0, 0.001, 0.075 }, { 0.025, 0.010, 0.09 },
    };
    for (size_t i = 0; i < COUNT(cards); i++) {
        struct sound_pace p = { 0 };
        struct randomiser r = random_keyed(5, 1, i);
        double at = 100;
        run(&p, &at, 100.4, cards[i].piece_s, cards[i].late_s, &r);
        assert_true(sound_pace_s(&p) > 0.2); /* too early to know */
        assert_true(run(&p, &at, 3600, cards[i].piece_s, cards[i].late_s, &r) < cards[i].most_s);
    }
}

static void a_card_with_large_pieces_is_given_the_time(void **state)
{
    (void)state;
    struct sound_pace p = { 0 };
    struct randomiser r = random_keyed(5, 2, 0);
    double at = 10, most = run(&p, &at, 60, 0.5, 0.04, &r);
    assert_true(most > 0.54 && most < 0.61);
}

/* Pauses of a busy machine are learnt, and forgotten after one to two minutes. */
static void a_pause_is_learnt_and_forgotten(void **state)
{
    (void)state;
    struct sound_pace p = { 0 };
    struct randomiser r = random_keyed(5, 3, 0);
    double at = 0;
    assert_true(run(&p, &at, 10, 0.02, 0, &r) < 0.08);
    at += 0.1;
    sound_pace_tell(&p, at, 0.02);
    at += 0.02;
    assert_true(run(&p, &at, 60, 0.02, 0, &r) > 0.14);
    assert_true(run(&p, &at, 140, 0.02, 0, &r) < 0.08);
    at += 5; /* it stood still: that is no rhythm */
    sound_pace_tell(&p, at, 0.02);
    assert_near(sound_pace_s(&p), SOUND_PACE_MOST_S + SOUND_PACE_SPARE_S, 1e-9);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(regular_cards_are_missed_within_a_tenth_of_a_second),
        cmocka_unit_test(a_card_with_large_pieces_is_given_the_time),
        cmocka_unit_test(a_pause_is_learnt_and_forgotten),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
