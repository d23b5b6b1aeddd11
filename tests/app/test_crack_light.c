/* Strong cracks get the light that they ask for: on real recordings where they
 * are present, and on made-up moments always. The flash limit itself has tests
 * of its own; here counts what the planning leaves it to do. */
#include "scratch.h"

#include "app/clip/listen_file.h"
#include "light/player.h"
#include "light/reached.h"

enum { SEEDS = 8 };

/* The built-in rig with one flood whose lamp takes 20 ms to light. */
static void slow_rig(struct tc_rig *rig)
{
    assert_int_equal(tc_rig_builtin(rig), TC_OK);
    for (size_t c = 0; c < rig->channel_count; c++) {
        if (rig->channels[c].kind != TC_FLOOD) continue;
        rig->channels[c].rise_ms = 20;
        return;
    }
    fail();
}

/* The shares of light of all strokes; the caller frees. */
static float *shares_of(const struct tc_analysis *a, const struct tc_rig *rig, const struct tc_settings *s,
                        struct tc_timeline *t)
{
    assert_int_equal(tc_cue(a, rig, s, NULL, t, NULL), TC_OK);
    float *share = calloc(t->stroke_count + 1, sizeof *share);
    assert_non_null(share);
    assert_int_equal(strokes_reached(t, rig, s, NULL, share), TC_OK);
    return share;
}

static bool is_first(const struct tc_analysis *a, const struct tc_stroke *k)
{
    return !k->order && a->events[k->event].kind == TC_CRACK;
}

/* ---- Made-up moments ---- */

struct moment {
    int64_t at_ms;
    float strength;
    int strokes;
};

static float share_at(const struct moment *moments, size_t count, size_t which, const struct tc_rig *rig,
                      const struct tc_settings *s)
{
    enum { MOST = 8 };
    struct tc_event events[MOST];
    float got = -1;
    assert_true(count <= MOST);
    for (size_t i = 0; i < count; i++)
        events[i] = (struct tc_event){ .kind = TC_CRACK, .start_ms = moments[i].at_ms, .end_ms = moments[i].at_ms,
                                       .peak_ms = moments[i].at_ms, .strength = moments[i].strength, .sharpness = 1,
                                       .strokes = moments[i].strokes };
    struct tc_analysis a = { .length_ms = 8000, .sample_rate = 48000, .channels = 2, .sensitivity = 50,
                             .events = events, .event_count = count };
    struct tc_timeline t;
    float *share = shares_of(&a, rig, s, &t);
    for (size_t i = 0; i < t.stroke_count; i++)
        if (is_first(&a, &t.strokes[i]) && t.strokes[i].event == which) got = share[i];
    free(share);
    tc_timeline_clear(&t);
    return got;
}

/* The fall after the first crack is still going on when somebody begins to
 * look, 0.3 s later: it is one of the changes that he finds, and two more
 * flashes leave no room for the strong one, 1.25 s after the first. */
static void a_late_look_finds_the_fall_before(void **state)
{
    (void)state;
    static const struct moment moments[] = { { 3749, 0.63f, 1 }, { 4699, 0.53f, 1 }, { 4824, 0.53f, 1 }, { 4999, 0.80f, 1 } };
    for (int slow = 0; slow < 2; slow++) {
        struct tc_rig rig;
        slow ? slow_rig(&rig) : (void)assert_int_equal(tc_rig_builtin(&rig), TC_OK);
        for (int64_t seed = 1; seed <= SEEDS; seed++) {
            struct tc_settings s = tc_settings_default();
            s.seed = seed;
            for (int64_t gap = 800; gap < 1500; gap += 25) { /* wherever the fall lies in the second */
                struct moment moved[COUNT(moments)];
                memcpy(moved, moments, sizeof moved);
                moved[0].at_ms = moved[COUNT(moments) - 1].at_ms - gap;
                float share = share_at(moved, COUNT(moments), COUNT(moments) - 1, &rig, &s);
                if (share < 0.9f)
                    fail_msg("slow %d, seed %d, gap %d ms: %.2f", slow, (int)seed, (int)gap, (double)share);
            }
        }
        tc_rig_clear(&rig);
    }
}

/* ---- Recordings ---- */

static bool have_recordings(void)
{
    if (recordings_folder()) return true;
    print_message("skipped: no folder of recordings (THUNDERCUE_RECORDINGS)\n");
    return false;
}

static struct tc_analysis hear(const char *path)
{
    struct tc_settings s = tc_settings_default();
    struct tc_analysis a = { 0 };
    struct tc_problem remark, why = { "" };
    if (listen_file(path, &s, &a, &remark, &why) != TC_OK) fail_msg("%s", why.text);
    return a;
}

/* Loud cracks beside a flood that leads, in every show of eight. */
static void loud_cracks_are_bright_beside_a_slow_flood(void **state)
{
    (void)state;
    static const struct { const char *name; int64_t at_ms; } loud[] = { { "thunder-c.flac", 2702 }, { "storm-f.ogg", 23593 } };
    if (!have_recordings()) skip();
    struct tc_rig rig;
    slow_rig(&rig);
    for (size_t i = 0; i < COUNT(loud); i++) {
        char path[1024];
        snprintf(path, sizeof path, "%s/%s", recordings_folder(), loud[i].name);
        struct tc_analysis a = hear(path);
        int met = 0;
        for (int64_t seed = 1; seed <= SEEDS; seed++) {
            struct tc_settings s = tc_settings_default();
            struct tc_timeline t;
            s.seed = seed;
            float *share = shares_of(&a, &rig, &s, &t);
            for (size_t k = 0; k < t.stroke_count; k++) {
                int64_t off = a.events[t.strokes[k].event].start_ms - loud[i].at_ms;
                if (!is_first(&a, &t.strokes[k]) || off < -25 || off > 25) continue;
                met++;
                if (share[k] < 0.9f) fail_msg("%s, seed %d: %.2f", loud[i].name, (int)seed, (double)share[k]);
            }
            free(share);
            tc_timeline_clear(&t);
        }
        assert_int_equal(met, SEEDS);
        tc_analysis_clear(&a);
    }
    tc_rig_clear(&rig);
}

/* First strokes of strong cracks that get under half of their light. */
struct tally {
    int strong, dark, strongest_dark;
};

static void count_dark(const struct tc_analysis *a, const struct tc_rig *rig, struct tally *n)
{
    for (int64_t seed = 1; seed <= SEEDS; seed++) {
        struct tc_settings s = tc_settings_default();
        struct tc_timeline t;
        s.seed = seed;
        float *share = shares_of(a, rig, &s, &t);
        for (size_t k = 0; k < t.stroke_count; k++) {
            float strength = a->events[t.strokes[k].event].strength;
            if (!is_first(a, &t.strokes[k]) || strength < 0.7f) continue;
            n->strong++;
            if (share[k] >= REACHED_HELD_BACK) continue;
            n->dark++;
            n->strongest_dark += strength >= 0.9f;
        }
        free(share);
        tc_timeline_clear(&t);
    }
}

/* Hardly any, and none of the strongest, with quick lamps and with one slow one. */
static void strong_cracks_seldom_lose_light(void **state)
{
    (void)state;
    if (!have_recordings()) skip();
    struct tc_rig rig[2];
    struct tally n[2] = { { 0 } };
    assert_int_equal(tc_rig_builtin(&rig[0]), TC_OK);
    slow_rig(&rig[1]);
    char **list = recordings_list();
    for (size_t i = 0; list[i]; i++) {
        struct tc_analysis a = hear(list[i]);
        for (int slow = 0; slow < 2; slow++) count_dark(&a, &rig[slow], &n[slow]);
        tc_analysis_clear(&a);
    }
    recordings_free(list);
    for (int slow = 0; slow < 2; slow++) {
        print_message("    %s: %d first strokes of strength 0.7 and more, %d under half of their light\n",
                      slow ? "one slow flood" : "quick lamps", n[slow].strong, n[slow].dark);
        assert_true(n[slow].strong > 200);
        assert_true(n[slow].dark * 160 <= n[slow].strong);
        assert_int_equal(n[slow].strongest_dark, 0);
        tc_rig_clear(&rig[slow]);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_late_look_finds_the_fall_before),
        cmocka_unit_test(loud_cracks_are_bright_beside_a_slow_flood),
        cmocka_unit_test(strong_cracks_seldom_lose_light),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
