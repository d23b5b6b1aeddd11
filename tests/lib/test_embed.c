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

/* ---- A finished timeline ---- */

/* Ten strokes a second on the first channel, for `seconds`. */
static struct tc_timeline strobe(uint32_t seconds)
{
    struct tc_timeline t = { .frame_rate = 40, .frames = 40 * seconds + 1, .pulse_count = 10 * seconds };
    t.pulses = calloc(t.pulse_count, sizeof *t.pulses);
    assert_non_null(t.pulses);
    for (uint32_t i = 0; i < t.pulse_count; i++)
        t.pulses[i] = (struct tc_pulse){ .frame = 4 * i + 1, .channel = TC_SET_FLOODS + TC_SIDE_BOTH, .peak = 65535, .fall = 1 };
    return t;
}

static void a_check_counts_flashes_and_watts(void **state)
{
    (void)state;
    struct tc_timeline t = strobe(4);
    struct tc_settings s = tc_settings_default();
    struct tc_rig rig;
    struct tc_check c;
    assert_int_equal(tc_rig_builtin(&rig), TC_OK);
    assert_int_equal(tc_check_run(&t, &rig, &s, NULL, &c), TC_OK); /* limited while it is played */
    assert_false(c.too_fast);
    assert_true(c.peak_transitions >= 2 && c.peak_transitions <= 6);
    tc_check_clear(&c);
    for (int loop = 0; loop < 2; loop++) {
        s.loop = loop;
        s.flash_limit = 0;
        assert_int_equal(tc_check_run(&t, &rig, &s, NULL, &c), TC_OK);
        assert_int_equal(c.peak_transitions, 20); /* ten flashes, up and down */
        assert_near(c.all.all_on_w, 12 * 5 + 4 * 15, 1e-9); /* nameplates of the built-in rig */
        assert_near(c.all.reached_w, 4 * 15, 0.1);
        assert_near(c.circuits[0].reached_w, 4 * 15, 0.1);
        assert_int_equal(c.over_breaker, 0);
        tc_check_clear(&c);
    }
    rig.circuits[0].breaker_amps = 1.2; /* 80 % of it at 120 V are 115.2 W */
    assert_int_equal(tc_check_run(&t, &rig, &s, NULL, &c), TC_OK);
    assert_int_equal(c.over_breaker, 1);
    tc_check_clear(&c);
    t.frame_rate = 50;
    assert_int_equal(tc_check_run(&t, &rig, &s, NULL, &c), TC_ERR_USAGE);
    tc_timeline_clear(&t);
    tc_rig_clear(&rig);
}

/* Takes so many bytes, then fails. */
struct short_disk {
    size_t room, taken;
};

static enum tc_status put(void *to, const char *bytes, size_t size)
{
    struct short_disk *d = to;
    (void)bytes;
    if (d->taken + size > d->room) return TC_ERR_WRITE;
    d->taken += size;
    return TC_OK;
}

static void writers_tell_can_be_stopped_and_hand_on_what_the_sink_says(void **state)
{
    (void)state;
    struct tc_timeline t = strobe(120);
    struct tc_settings s = tc_settings_default();
    struct tc_rig rig;
    typedef enum tc_status writer(const struct tc_timeline *, const struct tc_rig *, const struct tc_settings *,
                                  const struct tc_watch *, struct tc_sink);
    static writer *const writers[] = { tc_frames_write, tc_ramps_write };
    s.flash_limit = 0;
    assert_int_equal(tc_rig_builtin(&rig), TC_OK);
    for (size_t i = 0; i < COUNT(writers); i++) {
        struct watcher w = { 0 };
        struct tc_watch watch = { .stop = enough, .progress = see, .with = &w };
        struct short_disk disk = { .room = SIZE_MAX };
        struct tc_sink sink = { put, &disk };
        assert_int_equal(writers[i](&t, &rig, &s, &watch, sink), TC_OK);
        assert_true(w.told > 3 && !w.fell);
        assert_near(w.last, 1, 0);
        size_t whole = disk.taken;
        assert_true(whole > 50000);
        int asked = w.asked;
        for (int n = 1; n <= asked; n++) {
            w = (struct watcher){ .stop_after = n };
            assert_int_equal(writers[i](&t, &rig, &s, &watch, sink), TC_ERR_STOPPED);
        }
        disk = (struct short_disk){ .room = whole / 2 };
        assert_int_equal(writers[i](&t, &rig, &s, NULL, sink), TC_ERR_WRITE);
        s.frame_rate = 41;
        assert_int_equal(writers[i](&t, &rig, &s, NULL, sink), TC_ERR_USAGE);
        s.frame_rate = 40;
    }
    tc_timeline_clear(&t);
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
        cmocka_unit_test(a_check_counts_flashes_and_watts),
        cmocka_unit_test(writers_tell_can_be_stopped_and_hand_on_what_the_sink_says),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
