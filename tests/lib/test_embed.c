/* What a program built on the public header relies on: settings that grow,
 * calls that tell how far they are and can be stopped. */
#include "check.h"

#include "thundercue.h"
#include "words/settings.h"

/* ---- Settings of another version of the header ---- */

/* A later header: a field that this library has never heard of. */
struct later_settings {
    struct tc_settings known;
    double later;
};

static void settings_of_a_later_header_are_taken_until_one_is_set(void **state)
{
    (void)state;
    struct later_settings s;
    struct tc_problem why = { "" };
    struct tc_listener *l = NULL;
    memset(&s, 0x5a, sizeof s);
    tc_settings_init(&s.known, sizeof s);
    assert_int_equal(s.known.size, sizeof s);
    assert_true(s.later >= 0 && s.later <= 0);
    assert_near(s.known.sensitivity, 50, 0);
    assert_int_equal(tc_settings_check(&s.known, &why), TC_OK);
    assert_int_equal(tc_settings_set(&s.known, "seed", "7", &why), TC_OK);
    assert_int_equal(tc_listener_create(&l, &s.known, 44100, 2), TC_OK);
    tc_listener_destroy(l);
    s.later = 1;
    assert_int_equal(tc_settings_check(&s.known, &why), TC_ERR_USAGE);
    assert_non_null(strstr(why.text, TC_VERSION));
    assert_int_equal(tc_listener_create(&l, &s.known, 44100, 2), TC_ERR_USAGE);
    assert_null(l);
}

/* An earlier header ends somewhere in the struct: what lies behind is not the
 * library's to read or write, and stands at its default. */
static void settings_of_an_earlier_header_leave_what_it_lacks_at_the_default(void **state)
{
    (void)state;
    struct tc_settings presets = tc_settings_default();
    size_t least = offsetof(struct tc_settings, sensitivity) + sizeof presets.sensitivity;
    for (size_t size = least; size <= sizeof presets; size++) {
        struct tc_settings *s = test_malloc(size), full; /* cmocka guards what lies behind */
        struct tc_problem why = { "" };
        tc_settings_init(s, size);
        assert_int_equal(tc_settings_set(s, "sensitivity", "61", &why), TC_OK);
        assert_int_equal(settings_take(&full, s, &why), TC_OK);
        assert_int_equal(full.size, sizeof full);
        assert_near(full.sensitivity, 61, 0);
        full.sensitivity = presets.sensitivity;
        for (size_t i = 0; i < setting_count(); i++) {
            char is[32], was[32];
            assert_string_equal(setting_value(setting_at(i), &full, is, sizeof is),
                                setting_value(setting_at(i), &presets, was, sizeof was));
        }
        bool has_last = size >= offsetof(struct tc_settings, far_sharpness) + sizeof full.far_sharpness;
        assert_int_equal(tc_settings_set(s, "far-sharpness", "0.3", &why), has_last ? TC_OK : TC_ERR_USAGE);
        if (!has_last) assert_non_null(strstr(why.text, "built for a version of thundercue without it"));
        test_free(s);
    }
}

static void settings_that_were_not_begun_are_refused(void **state)
{
    (void)state;
    struct tc_settings s;
    struct tc_problem why = { "" };
    memset(&s, 0, sizeof s);
    assert_int_equal(tc_settings_check(&s, &why), TC_ERR_USAGE);
    assert_non_null(strstr(why.text, "tc_settings_default"));
    assert_int_equal(tc_settings_set(&s, "seed", "1", &why), TC_ERR_USAGE);
    memset(&s, 0xff, sizeof s);
    assert_int_equal(tc_settings_check(&s, &why), TC_ERR_USAGE);
}

static void no_settings_are_the_defaults(void **state)
{
    (void)state;
    struct tc_listener *l = NULL;
    assert_int_equal(tc_settings_check(NULL, NULL), TC_OK);
    assert_int_equal(tc_listener_create(&l, NULL, 44100, 2), TC_OK);
    tc_listener_destroy(l);
}

/* ---- Watching and stopping ---- */

struct watcher {
    int told, asked, stop_after; /* 0 = never */
    double last;
    bool fell;
};

static void see(void *with, double share)
{
    struct watcher *w = with;
    if (share < w->last || share > 1) w->fell = true;
    w->last = share;
    w->told++;
}

static bool enough(void *with)
{
    struct watcher *w = with;
    return ++w->asked == w->stop_after;
}

/* A storm of cracks in noise, mono. */
static float *thunder(size_t frames)
{
    float *samples = calloc(frames, sizeof *samples);
    assert_non_null(samples);
    uint32_t state = 1;
    for (size_t i = 0; i < frames; i++) {
        state = state * 1664525u + 1013904223u;
        double noise = (double)(state >> 8) / (1 << 23) - 1;
        samples[i] = (float)(noise * (0.001 + 0.5 * exp(-(double)(i % 30000) / 3000)));
    }
    return samples;
}

static void listening_at_once_hears_what_blocks_hear_and_can_be_stopped(void **state)
{
    (void)state;
    enum { FRAMES = 200000 };
    float *samples = thunder(FRAMES);
    struct tc_analysis once = { 0 }, blocks = { 0 };
    struct watcher w = { 0 };
    struct tc_watch watch = { .stop = enough, .progress = see, .with = &w };
    struct tc_listener *l;
    assert_int_equal(tc_listen(samples, FRAMES, 22050, 1, NULL, &watch, &once), TC_OK);
    assert_true(w.told > 50 && w.told < 200 && !w.fell);
    assert_near(w.last, 1, 0);
    assert_int_equal(tc_listener_create(&l, NULL, 22050, 1), TC_OK);
    for (size_t at = 0; at < FRAMES; at += 1000) assert_int_equal(tc_listener_push(l, samples + at, 1000), TC_OK);
    assert_int_equal(tc_listener_finish(l, &blocks), TC_OK);
    tc_listener_destroy(l);
    assert_true(once.event_count > 3);
    assert_int_equal(once.event_count, blocks.event_count);
    for (size_t i = 0; i < once.event_count; i++) assert_int_equal(once.events[i].start_ms, blocks.events[i].start_ms);
    assert_int_equal(once.envelope_count, blocks.envelope_count);
    assert_memory_equal(once.envelope, blocks.envelope, once.envelope_count);

    int asked = w.asked;
    for (int n = 1; n <= asked; n++) {
        struct tc_analysis stopped;
        w = (struct watcher){ .stop_after = n };
        assert_int_equal(tc_listen(samples, FRAMES, 22050, 1, NULL, &watch, &stopped), TC_ERR_STOPPED);
        assert_null(stopped.events);
        assert_int_equal(w.asked, n);
    }
    tc_analysis_clear(&once);
    tc_analysis_clear(&blocks);
    free(samples);
}

static void cueing_tells_how_far_it_is_and_can_be_stopped(void **state)
{
    (void)state;
    enum { CRACKS = 300 };
    static struct tc_event events[CRACKS];
    for (int i = 0; i < CRACKS; i++)
        events[i] = (struct tc_event){ .kind = TC_CRACK, .start_ms = 700 * i, .end_ms = 700 * i, .peak_ms = 700 * i,
                                       .strength = 1, .sharpness = 1 };
    struct tc_analysis a = { .length_ms = 700 * CRACKS, .sample_rate = 44100, .events = events, .event_count = CRACKS };
    struct tc_rig rig;
    struct tc_timeline t;
    struct watcher w = { 0 };
    struct tc_watch watch = { .stop = enough, .progress = see, .with = &w };
    assert_int_equal(tc_rig_builtin(&rig), TC_OK);
    assert_int_equal(tc_cue(&a, &rig, NULL, &watch, &t, NULL), TC_OK);
    assert_true(w.told > 50 && w.told < 600 && !w.fell);
    assert_near(w.last, 1, 0);
    tc_timeline_clear(&t);
    int asked = w.asked;
    for (int n = 1; n <= asked; n++) {
        w = (struct watcher){ .stop_after = n };
        assert_int_equal(tc_cue(&a, &rig, NULL, &watch, &t, NULL), TC_ERR_STOPPED);
        assert_null(t.strokes);
        assert_null(t.pulses);
        assert_int_equal(w.asked, n);
    }
    tc_rig_clear(&rig);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(settings_of_a_later_header_are_taken_until_one_is_set),
        cmocka_unit_test(settings_of_an_earlier_header_leave_what_it_lacks_at_the_default),
        cmocka_unit_test(settings_that_were_not_begun_are_refused),
        cmocka_unit_test(no_settings_are_the_defaults),
        cmocka_unit_test(listening_at_once_hears_what_blocks_hear_and_can_be_stopped),
        cmocka_unit_test(cueing_tells_how_far_it_is_and_can_be_stopped),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
