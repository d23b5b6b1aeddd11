/* What a program built on the public header relies on: settings that grow,
 * calls that tell how far they are and can be stopped. */
#include "check.h"
#include "kept.h"

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
        t.pulses[i] = (struct tc_pulse){ .frame = 4 * i + 1, .channel = TC_SET_FLOODS + TC_SIDE_BOTH, .peak = 65535,
                                         .fall = 1 };
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
    assert_int_equal(tc_check_run(&t, &rig, &s, NULL, &c, NULL), TC_OK); /* limited while it is played */
    assert_false(c.too_fast);
    assert_true(c.peak_transitions >= 2 && c.peak_transitions <= 6);
    tc_check_clear(&c);
    for (int loop = 0; loop < 2; loop++) {
        s.loop = loop;
        s.flash_limit = 0;
        assert_int_equal(tc_check_run(&t, &rig, &s, NULL, &c, NULL), TC_OK);
        assert_int_equal(c.peak_transitions, 20); /* ten flashes, up and down */
        assert_near(c.all.all_on_w, 12 * 5 + 4 * 15, 1e-9); /* nameplates of the built-in rig */
        assert_near(c.all.reached_w, 4 * 15, 0.1);
        assert_near(c.circuits[0].reached_w, 4 * 15, 0.1);
        assert_int_equal(c.over_breaker, 0);
        tc_check_clear(&c);
    }
    rig.circuits[0].breaker_amps = 1.2; /* 80 % of it at 120 V are 115.2 W */
    assert_int_equal(tc_check_run(&t, &rig, &s, NULL, &c, NULL), TC_OK);
    assert_int_equal(c.over_breaker, 1);
    tc_check_clear(&c);
    t.frame_rate = 50;
    struct tc_problem why;
    static const char other_rate[] = "frame_rate 40: the timeline was made with 50 light "
                                     "frames a second; play it at that rate, or cue again";
    assert_int_equal(tc_check_run(&t, &rig, &s, NULL, &c, &why), TC_ERR_USAGE);
    assert_string_equal(why.text, other_rate);
    struct tc_player *player;
    /* it would count seconds of another length */
    assert_int_equal(tc_player_create(&player, &t, &rig, &s, &why), TC_ERR_USAGE);
    assert_string_equal(why.text, other_rate);
    assert_null(player);
    tc_timeline_clear(&t);
    tc_rig_clear(&rig);
}

static void a_files_check_is_that_of_its_timeline(void **state)
{
    (void)state;
    struct tc_timeline t = strobe(6);
    struct tc_rig rig;
    assert_int_equal(tc_rig_builtin(&rig), TC_OK);
    for (int i = 0; i < 16; i++) {
        struct tc_settings s = tc_settings_default();
        struct tc_check plan, file;
        struct tc_problem why = { "" };
        struct kept text = { NULL, 0 };
        s.levels = i & 1 ? TC_LEVELS_8BIT : TC_LEVELS_PERCENT;
        s.loop = i & 2;
        s.flash_limit = i & 4 ? 0 : 3;
        s.outputs = i & 8 ? 20 : 0;
        assert_int_equal(tc_check_run(&t, &rig, &s, NULL, &plan, NULL), TC_OK);
        assert_int_equal(tc_frames_write(&t, &rig, &s, NULL, kept_sink(&text), NULL), TC_OK);
        if (tc_check_frames(text.bytes, text.size, "a.csv", &rig, &s, NULL, &file, &why) != TC_OK)
            fail_msg("%s", why.text);
        assert_int_equal(file.too_fast, plan.too_fast);
        assert_int_equal(file.peak_transitions, plan.peak_transitions);
        assert_int_equal(file.peak_at_ms, plan.peak_at_ms);
        assert_string_equal(file.peak_series, plan.peak_series);
        assert_int_equal(file.transitions, plan.transitions);
        assert_int_equal(file.extended_ms, plan.extended_ms);
        assert_near(file.lit_share, plan.lit_share, 1e-12);
        assert_int_equal(file.longest_dark_ms, plan.longest_dark_ms);
        assert_near(file.all.reached_w, plan.all.reached_w, 1e-6);
        assert_int_equal(file.circuits[0].reached_at_ms, plan.circuits[0].reached_at_ms);
        assert_true(plan.peak_transitions > 2);
        tc_check_clear(&plan);
        tc_check_clear(&file);
        kept_free(&text);
    }
    tc_timeline_clear(&t);
    tc_rig_clear(&rig);
}

static void a_file_that_is_no_timeline_of_the_rig_is_refused_by_its_line(void **state)
{
    (void)state;
    static const char rig_text[] = "[circuit left]\nbreaker_amps = 15\n[channel 1]\nname = trunk\nkind = branch\n"
                                   "watts = 5\n"
                                   "max_level = 90\ncircuit = left\n[channel 2]\nname = wash\nkind = flood\n"
                                   "watts = 15\ncircuit = left\n";
    static const struct { const char *text, *said; } rows[] = {
        { "time_s;trunk;wash\n0,000;0,0;0,0\n0,025;80,0;50,5\n0,050;0,0;0,0\n", NULL },
        { "time_s,trunk,wash\n0,0,0\n0.025,80,x\n0.05,0,0\n", "a.csv:3: column 3: 'x' is not a number" },
        { "time_s,trunk,wash\n0,0,0\n0.025,95,0\n0.05,0,0\n", "a.csv:3: column 2: level 95 is above" },
        { "time_s,trunk,wash\n0,0,0\n0.025,80,101\n0.05,0,0\n", "a.csv:3: column 3: level 101 is outside" },
        { "time_s,trunk,wash\n0,0,0\n0.025,80,0\n0.02,0,0\n", "a.csv:4: column 1: time" },
        { "time_s,trunk,moon\n0,0,0\n", "a.csv:1: column 3: \"moon\" is no channel" },
        { "time_s,trunk\n0,0\n", "a.csv:1: no column for channel 2" },
        { "time_s,trunk,wash\n0,0,0\n0.025,80,0\n", "a.csv: the last row is not dark" },
        { "time_s,trunk,wash\n", "a.csv:" }, { "", "a.csv:1: the file is empty" },
        { "kind,start_s\ncrack,1\n", "a.csv:1: this is" },
    };
    struct tc_rig rig;
    struct tc_problem why;
    assert_int_equal(tc_rig_read(rig_text, sizeof rig_text - 1, "mill.rig", &rig, &why), TC_OK);
    for (size_t i = 0; i < COUNT(rows); i++) {
        struct tc_check c;
        why.text[0] = 0;
        enum tc_status status = tc_check_frames(rows[i].text, strlen(rows[i].text), "a.csv", &rig, NULL, NULL, &c,
                                                &why);
        assert_int_equal(status, rows[i].said ? TC_ERR_FORM : TC_OK);
        if (rows[i].said && strncmp(why.text, rows[i].said, strlen(rows[i].said)) != 0)
            fail_msg("%zu: %s", i, why.text);
        if (!rows[i].said) assert_near(c.all.reached_w, 0.8 * 5 + 0.505 * 15, 1e-9);
        tc_check_clear(&c);
    }
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
                                  const struct tc_watch *, struct tc_sink, struct tc_problem *);
    static writer *const writers[] = { tc_frames_write, tc_ramps_write };
    struct tc_problem why;
    s.flash_limit = 0;
    assert_int_equal(tc_rig_builtin(&rig), TC_OK);
    for (size_t i = 0; i < COUNT(writers); i++) {
        struct watcher w = { 0 };
        struct tc_watch watch = { .stop = enough, .progress = see, .with = &w };
        struct short_disk disk = { .room = SIZE_MAX };
        struct tc_sink sink = { put, &disk };
        assert_int_equal(writers[i](&t, &rig, &s, &watch, sink, NULL), TC_OK);
        assert_true(w.told > 3 && !w.fell);
        assert_near(w.last, 1, 0);
        size_t whole = disk.taken;
        assert_true(whole > 50000);
        int asked = w.asked;
        for (int n = 1; n <= asked; n++) {
            w = (struct watcher){ .stop_after = n };
            assert_int_equal(writers[i](&t, &rig, &s, &watch, sink, &why), TC_ERR_STOPPED);
            assert_string_equal(why.text, "stopped");
        }
        disk = (struct short_disk){ .room = whole / 2 };
        assert_int_equal(writers[i](&t, &rig, &s, NULL, sink, &why), TC_ERR_WRITE);
        s.frame_rate = 41;
        assert_int_equal(writers[i](&t, &rig, &s, NULL, sink, &why), TC_ERR_USAGE);
        assert_non_null(strstr(why.text, "frame_rate 41: "));
        s.frame_rate = 121;
        assert_int_equal(writers[i](&t, &rig, &s, NULL, sink, &why), TC_ERR_USAGE);
        assert_non_null(strstr(why.text, "frame-rate"));
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
        cmocka_unit_test(a_files_check_is_that_of_its_timeline),
        cmocka_unit_test(a_file_that_is_no_timeline_of_the_rig_is_refused_by_its_line),
        cmocka_unit_test(writers_tell_can_be_stopped_and_hand_on_what_the_sink_says),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
