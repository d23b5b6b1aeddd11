/* A show by simulated clocks: which light frame goes out when, by the sound's
 * time, over laps, stalls and hours, and what a track holds and counts. */
#include "check.h"
#include "scratch.h"

#include <dirent.h>
#include <unistd.h>

#include "app/live/live.h"
#include "app/live/show.h"
#include "app/live/show_load.h"
#include "io/sound/sound_clock.h"
#include "rig/rig_slots.h"

enum { RATE = 40 };

static struct tc_rig rig;

static int set_up(void **state)
{
    (void)state;
    return tc_rig_builtin(&rig) != TC_OK;
}

static int tear_down(void **state)
{
    (void)state;
    tc_rig_clear(&rig);
    return 0;
}

/* Frame f has level f % 251 on channel 1, and the last is black. */
static struct track counting_track(int frames)
{
    struct track t;
    uint16_t levels[16] = { 0 };
    assert_int_equal(track_begin(&t, &rig), TC_OK);
    for (int f = 0; f < frames; f++) {
        levels[0] = (uint16_t)(f == frames - 1 ? 0 : f % 251);
        assert_int_equal(track_add(&t, (int64_t)f * 1000000 / RATE, levels, NULL), TC_OK);
    }
    return t;
}

static void frames_follow_the_sound_for_an_hour(void **state)
{
    (void)state;
    /* The card is 100 ppm fast; the show looks at it as the sound's clock tells,
     * woken as it asked for, a little late each time. */
    static const double ppm[] = { 100, -100 };
    for (size_t p = 0; p < COUNT(ppm); p++) {
        struct track t = counting_track(3600 * RATE);
        struct live l;
        struct sound_clock c;
        double speed = 1 + ppm[p] * 1e-6, worst = 0, now = 50;
        int64_t told = 0;
        size_t seen = 0;
        assert_int_equal(live_begin(&l, &t, 3600, false), TC_OK);
        sound_clock_begin(&c, 48000);
        while (!l.ended) {
            double truth = (now - 50) * speed;
            for (; (double)told / 48000 <= truth; told += 1024)
                sound_clock_tell(&c, told, 50 + (double)told / 48000 / speed);
            struct live_news news = live_step(&l, now, sound_clock_frame(&c, now) / 48000, HUGE_VAL);
            if (news.fresh && !l.ended) {
                double due = (double)(l.next - 1) / RATE;
                if (fabs(truth - due) > worst) worst = fabs(truth - due);
                seen++;
            }
            if (l.ended) break;
            now += (news.wait_s < 0.02 ? news.wait_s : 0.02) + 0.0001;
        }
        assert_int_equal(seen, 3600 * RATE);
        if (worst > 0.001) fail_msg("light was %.3f ms from its sound", 1000 * worst);
        assert_near(now - 50, 3600 / speed, 0.01);
        live_clear(&l);
        track_clear(&t);
    }
}

/* Stands still at 2.99 s, and goes on from there after seven seconds. */
static void a_stalled_sound_is_black_within_250_ms_until_the_show_is_dark(void **state)
{
    (void)state;
    struct track t = counting_track(400);
    struct live l;
    double now = 10;
    assert_int_equal(live_begin(&l, &t, 10, false), TC_OK);
    for (; now < 12.995; now += 0.01) live_step(&l, now, now - 10, HUGE_VAL);
    assert_true(l.slots[0] > 0);
    double stood = now - 0.01 - 1e-9;
    for (; now - stood < 0.20; now += 0.01) {
        live_step(&l, now, stood - 10, HUGE_VAL);
        assert_true(l.slots[0] > 0);
    }
    for (; now - stood < 0.25; now += 0.01) live_step(&l, now, stood - 10, HUGE_VAL);
    assert_true(l.stalled);
    assert_int_equal(l.slots[0], 0);
    for (; now < 20; now += 0.01) {
        assert_false(live_step(&l, now, stood - 10, HUGE_VAL).fresh);
        assert_int_equal(l.slots[0], 0);
    }
    size_t dark = 0, lit = 0;
    double late = now - stood - 0.01;
    for (; !l.ended; now += 0.01) { /* light 251 % 251 is the next dark frame, at 6.275 s */
        live_step(&l, now, now - late - 10, HUGE_VAL);
        assert_false(l.stalled);
        if (now - late - 10 < 6.2999) dark += l.slots[0] == 0;
        else if (!l.ended && l.next < 400) lit += l.slots[0] > 0;
        assert_true(now - late - 10 > 6.2999 || l.slots[0] == 0);
    }
    assert_true(dark > 300 && lit > 300);
    live_clear(&l);
    track_clear(&t);
}

/* A sound that has stopped is black at the second look; one that went on before it is not. */
static void a_stopped_sound_is_black_at_the_second_look(void **state)
{
    (void)state;
    struct track t = counting_track(400);
    struct live l;
    assert_int_equal(live_begin(&l, &t, 10, false), TC_OK);
    live_step(&l, 1, 2.51, 1.07);
    struct live_news news = live_step(&l, 1.06, 2.571, 1.07);
    assert_true(news.wait_s > 0 && news.wait_s < 0.011);
    news = live_step(&l, 1.0701, 2.58, 1.07);
    assert_false(l.stalled);
    assert_true(news.wait_s > 0 && news.wait_s <= LIVE_DOUBT_S);
    live_step(&l, 1.0702, 2.581, 1.14);
    live_step(&l, 1.1, 2.611, 1.14);
    assert_false(l.stalled);
    assert_true(l.slots[0] > 0);
    live_step(&l, 1.1401, 2.63, 1.14);
    assert_true(l.slots[0] > 0);
    assert_true(live_step(&l, 1.1402 + LIVE_DOUBT_S, 2.63, 1.14).fresh);
    assert_true(l.stalled);
    assert_int_equal(l.slots[0], 0);
    live_step(&l, 1.2, 2.64, 1.27);
    assert_false(l.stalled);
    assert_int_equal(l.slots[0], 0); /* and waits for the dark */
    live_clear(&l);
    track_clear(&t);
}

/* A sound that stands still and goes on all the time adds no changes of light to those of the show. */
static void stalls_add_no_flashes(void **state)
{
    (void)state;
    struct track t;
    uint16_t levels[16];
    enum { FRAMES = 60 * RATE };
    assert_int_equal(track_begin(&t, &rig), TC_OK);
    for (int f = 0; f < FRAMES; f++) { /* two seconds of light, one of dark, over and over */
        for (int c = 0; c < 16; c++) levels[c] = f % (3 * RATE) < 2 * RATE && f < FRAMES - 1 ? 255 : 0;
        assert_int_equal(track_add(&t, (int64_t)f * 1000000 / RATE, levels, NULL), TC_OK);
    }
    struct live l;
    int changes = 0, before = 0;
    double show = 0, now = 5;
    assert_int_equal(live_begin(&l, &t, 60, false), TC_OK);
    for (int i = 0; !l.ended; i++, now += 0.01) {
        if (i % 50 < 20) show += 0.01; /* runs for 0.2 s, stands for 0.3 s */
        live_step(&l, now, show, HUGE_VAL);
        int lit = l.slots[0] > 0;
        changes += lit != before;
        before = lit;
    }
    assert_in_range(changes, 2, 40);
    live_clear(&l);
    track_clear(&t);
}

static void light_that_was_put_out_from_elsewhere_waits_for_the_dark(void **state)
{
    (void)state;
    struct track t = counting_track(400);
    struct live l;
    assert_int_equal(live_begin(&l, &t, 10, false), TC_OK);
    live_step(&l, 1, 2.51, HUGE_VAL);
    assert_int_equal(l.slots[0], 100);
    live_hold(&l);
    assert_int_equal(l.slots[0], 0);
    assert_int_equal(live_step(&l, 1.1, 2.61, HUGE_VAL).bright, 0);
    assert_int_equal(l.slots[0], 0);
    live_step(&l, 1.2, 6.28, HUGE_VAL); /* frame 251 is dark */
    live_step(&l, 1.3, 6.31, HUGE_VAL);
    assert_int_equal(l.slots[0], 1);
    live_clear(&l);
    track_clear(&t);
}

static void laps_begin_exactly_where_the_sound_does(void **state)
{
    (void)state;
    struct track t = counting_track(41);
    struct live l;
    const double lap = 1.0103; /* of the sound: the frame of 1.000 s has no room before the seam */
    double first[3] = { 0 }, last_at = -1;
    assert_int_equal(live_begin(&l, &t, lap, true), TC_OK);
    for (double show = 0; show < 3 * lap - 0.001; show += 0.0005) {
        int64_t before = l.lap;
        struct live_news news = live_step(&l, 1 + show, show, HUGE_VAL);
        if (!news.fresh) continue;
        if (l.lap > before) first[l.lap] = show;
        if (last_at >= 0) assert_true(show - last_at > 1.0 / 44 - 0.001); /* never faster than 44 a second */
        last_at = show;
    }
    assert_near(first[1], lap, 0.001);
    assert_near(first[2], 2 * lap, 0.001);
    assert_false(l.ended);
    live_clear(&l);
    track_clear(&t);
}

static void missed_frames_leave_what_the_newest_says(void **state)
{
    (void)state;
    struct track t = counting_track(100);
    struct live l;
    assert_int_equal(live_begin(&l, &t, 2.5, false), TC_OK);
    struct live_news news = live_step(&l, 1, 1.51, HUGE_VAL);
    assert_true(news.fresh);
    assert_int_equal(l.slots[0], 60);
    assert_near(news.late_s, 0.01, 1e-9);
    assert_near(news.wait_s, 0.015, 1e-9);
    live_step(&l, 2, 2.6, HUGE_VAL);
    assert_true(l.ended);
    for (size_t i = 0; i < t.slots; i++) assert_int_equal(l.slots[i], 0);
    live_clear(&l);
    track_clear(&t);
}

static void nothing_is_lit_before_the_sound_begins(void **state)
{
    (void)state;
    struct track t = counting_track(100);
    struct live l;
    assert_int_equal(live_begin(&l, &t, 2.5, false), TC_OK);
    assert_false(live_step(&l, 1, -0.5, HUGE_VAL).fresh);
    assert_int_equal(l.next, 0);
    live_clear(&l);
    track_clear(&t);
}

static void the_network_takes_44_frames_a_second(void **state)
{
    (void)state;
    struct track t;
    struct tc_problem why;
    uint16_t levels[16] = { 0 };
    assert_int_equal(track_begin(&t, &rig), TC_OK);
    assert_int_equal(track_add(&t, 0, levels, &why), TC_OK);
    assert_int_equal(track_add(&t, 22000, levels, &why), TC_OK); /* 1/44 s, cut to the millisecond */
    assert_int_equal(track_add(&t, 38667, levels, &why), TC_ERR_FORM);
    track_clear(&t);
}

static void flashes_are_counted_over_the_seam(void **state)
{
    (void)state;
    /* two flashes at each end of a lap of 1.5 s: four within a second, but only in a loop */
    struct track t;
    uint16_t levels[16];
    assert_int_equal(track_begin(&t, &rig), TC_OK);
    for (int f = 0; f < 60; f++) {
        bool lit = f == 2 || f == 6 || f == 52 || f == 56;
        for (int c = 0; c < 16; c++) levels[c] = lit ? 255 : 0;
        assert_int_equal(track_add(&t, f * 25000, levels, NULL), TC_OK);
    }
    assert_int_equal(track_count(&t, 3, 0), TC_OK);
    assert_false(track_flashes_too_fast(&t));
    assert_int_equal(track_count(&t, 3, 1500000), TC_OK);
    assert_true(track_flashes_too_fast(&t));
    track_clear(&t);
}

/* A machine that slept through laps goes on in the one that is heard. */
static void laps_that_were_missed_are_not_played(void **state)
{
    (void)state;
    struct track t = counting_track(100);
    struct live l;
    assert_int_equal(live_begin(&l, &t, 2.5, true), TC_OK);
    live_step(&l, 1, 1, HUGE_VAL);
    struct live_news news = live_step(&l, 1e6, 2.5e9 + 1.51, HUGE_VAL);
    assert_true(news.fresh);
    assert_int_equal(l.lap, 1000000000);
    assert_int_equal(l.slots[0], 60);
    live_clear(&l);
    track_clear(&t);
}

static void a_lap_too_short_to_repeat_is_refused(void **state)
{
    (void)state;
    char folder[256], path[300];
    scratch_make(folder, sizeof folder);
    snprintf(path, sizeof path, "%s/one.frames.csv", folder);
    for (int rows = 1; rows <= 2; rows++) {
        FILE *out = fopen(path, "wb");
        assert_non_null(out);
        fputs("time_s", out);
        for (size_t c = 0; c < rig.channel_count; c++) fprintf(out, ",%s", rig.channels[c].name);
        for (int i = 0; i < rows; i++) {
            fprintf(out, "\r\n%.3f", 0.022 * i);
            for (size_t c = 0; c < rig.channel_count; c++) fputs(",0.0", out);
        }
        fputs("\r\n", out);
        fclose(out);
        struct show_job job = { .thing = path, .to = "127.0.0.1", .no_sound = true, .quiet = true };
        struct show_outcome outcome;
        struct tc_problem why;
        struct tc_settings settings = tc_settings_default();
        settings.loop = true;
        assert_int_equal(show_run(&job, &rig, &settings, &outcome, &why), TC_ERR_FORM);
        if (!strstr(why.text, "too short to repeat")) fail_msg("%s", why.text);
        assert_int_equal(outcome.packets, 0);
    }
    scratch_remove(folder);
}

/* Where check finds that columns are not the rig's, nothing lights; another order is told and played. */
static void a_timeline_of_another_rig_is_refused(void **state)
{
    (void)state;
    static const struct { const char *head, *row, *said; } rows[] = {
        { "time_s,trunk,fork,flood", "0", NULL },
        { "time_s,fork,trunk,flood", "0", NULL },
        { "time_s,1 trunk,2 fork,3 flood,4", "0", NULL },
        { "time_s,trunk,fork,flood,wash", "0", "line 1, column 5: \"wash\" is no channel of the rig" },
        { "time_s,trunk,wing,flood", "0", "line 1, column 3: \"wing\" is no channel of the rig" },
        { "time_s,trunk,fork", "0", "line 1: no column for channel 3 \"flood\"" },
        { "time_s,trunk,fork,flood,fork", "0", "line 1, column 5: \"fork\" is there twice" },
        { "time_s,1 trunk,2 fork,3 flood,4", "9", "line 3, column 5: level 9 on an output that has no channel in the rig" },
    };
    static const char text[] = "[rig]\nname = small\n[circuit a]\nbreaker_amps = 15\n[defaults]\nwatts = 5\ncircuit = a\n"
                               "[channel 1]\nname = trunk\nkind = branch\n[channel 2]\nname = fork\nkind = branch\nparent = 1\n"
                               "[channel 3]\nname = flood\nkind = flood\n";
    char folder[256], path[300];
    static struct show_thing thing;
    struct tc_rig small;
    struct tc_settings settings = tc_settings_default();
    assert_int_equal(tc_rig_read(text, sizeof text - 1, "small.rig", &small, NULL), TC_OK);
    scratch_make(folder, sizeof folder);
    snprintf(path, sizeof path, "%s/one.frames.csv", folder);
    for (size_t i = 0; i < COUNT(rows); i++) {
        FILE *out = fopen(path, "wb");
        assert_non_null(out);
        size_t columns = 0;
        for (const char *c = rows[i].head; *c; c++) columns += *c == ',';
        fprintf(out, "%s\n", rows[i].head);
        for (int row = 0; row < 3; row++) {
            fprintf(out, "%.3f", 0.025 * row);
            for (size_t c = 0; c < columns; c++) fprintf(out, ",%s", row == 1 && c + 1 == columns ? rows[i].row : "0");
            fputs("\n", out);
        }
        fclose(out);
        struct show_job job = { .thing = path, .no_sound = true, .quiet = true, .own_rig = true };
        struct tc_problem why = { "" };
        enum tc_status status = show_load(&thing, &job, &small, &settings, &why);
        show_thing_clear(&thing);
        if (!rows[i].said != (status == TC_OK) || (rows[i].said && status != TC_ERR_USAGE)) fail_msg("%s: %s", rows[i].head, why.text);
        if (rows[i].said && (!strstr(why.text, rows[i].said) || !strstr(why.text, "another rig than \"small\"")))
            fail_msg("%s: %s", rows[i].head, why.text);
    }
    tc_rig_clear(&small);
    scratch_remove(folder);
}

static int open_files(void)
{
    int count = 0;
    DIR *list = opendir("/proc/self/fd");
    assert_non_null(list);
    while (readdir(list)) count++;
    closedir(list);
    return count;
}

/* A recording is heard and cued before it is played, and then let go. */
static void a_recording_is_closed_once_it_is_loaded(void **state)
{
    (void)state;
    static struct show_thing thing;
    struct tc_settings settings = tc_settings_default();
    struct show_job job = { .thing = "samples/mill-pond.flac", .no_sound = true, .quiet = true };
    struct tc_problem why;
    if (access(job.thing, R_OK)) {
        print_message("skipped: not run from the checkout's top folder\n");
        skip();
    }
    int before = open_files();
    if (show_load(&thing, &job, &rig, &settings, &why) != TC_OK) fail_msg("%s", why.text);
    assert_int_equal(open_files(), before);
    assert_true(thing.track.frames > 1000);
    show_thing_clear(&thing);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(frames_follow_the_sound_for_an_hour),
        cmocka_unit_test(a_stalled_sound_is_black_within_250_ms_until_the_show_is_dark),
        cmocka_unit_test(a_stopped_sound_is_black_at_the_second_look),
        cmocka_unit_test(stalls_add_no_flashes),
        cmocka_unit_test(light_that_was_put_out_from_elsewhere_waits_for_the_dark),
        cmocka_unit_test(laps_begin_exactly_where_the_sound_does),
        cmocka_unit_test(missed_frames_leave_what_the_newest_says),
        cmocka_unit_test(nothing_is_lit_before_the_sound_begins),
        cmocka_unit_test(the_network_takes_44_frames_a_second),
        cmocka_unit_test(flashes_are_counted_over_the_seam),
        cmocka_unit_test(laps_that_were_missed_are_not_played),
        cmocka_unit_test(a_lap_too_short_to_repeat_is_refused),
        cmocka_unit_test(a_timeline_of_another_rig_is_refused),
        cmocka_unit_test(a_recording_is_closed_once_it_is_loaded),
    };
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
