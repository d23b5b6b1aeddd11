/* Light against sound, with a simulated card and simulated time: the samples
 * that the card takes tell which moment of the show is heard, and what
 * sound_out says is held against them, over an hour in which the card's clock
 * and the machine's drift apart by 100 ppm. */
#include "cases.h"
#include "scratch.h"
#include "wav.h"

#include <sched.h>
#include <stdatomic.h>

#include "app/live/live.h"
#include "io/sound/sound_card.h"
#include "io/sound/sound_out.h"
#include "io/sound/source.h"

enum { RATE = 8000, LAP_FRAMES = 80000, PIECE = 256, LIGHT_RATE = 40 };
#define DELAY_S 0.06

/* ---- A card and a clock of our own ---- */

static _Atomic double now;
static double machine_now(void) { return now; }

struct fake {
    sound_card_fill *fill;
    void *user;
    double speed;            /* of its clock, by the machine's */
    double noise_s;          /* by which it is wrong about its delay, and late */
    int64_t frame;           /* taken so far */
    int64_t show_at;         /* of which the show began here; -1: not yet */
    int64_t broken;          /* pieces that were not the show's next */
    bool runs;
    uint32_t seed;
} fake;

/* A disk that does not answer. */
static atomic_bool stuck, waiting;
size_t __real_source_read(struct source *s, float *to, size_t frames);
size_t __wrap_source_read(struct source *s, float *to, size_t frames);
size_t __wrap_source_read(struct source *s, float *to, size_t frames)
{
    while (stuck) {
        waiting = true;
        sched_yield();
    }
    return __real_source_read(s, to, frames);
}

double __wrap_clock_now_s(void);
void __wrap_clock_sleep_until(double when_s);
enum tc_status __wrap_sound_card_open(struct sound_card **out, const char *name, double rate, sound_card_fill *fill, void *user,
                                      struct tc_problem *why);
int __wrap_sound_card_channels(const struct sound_card *c);
double __wrap_sound_card_rate(const struct sound_card *c);
enum tc_status __wrap_sound_card_start(struct sound_card *c, struct tc_problem *why);
bool __wrap_sound_card_runs(const struct sound_card *c);
void __wrap_sound_card_close(struct sound_card *c);

double __wrap_clock_now_s(void) { return machine_now(); }
void __wrap_clock_sleep_until(double when_s) { (void)when_s, sched_yield(); }
int __wrap_sound_card_channels(const struct sound_card *c) { (void)c; return 1; }
double __wrap_sound_card_rate(const struct sound_card *c) { (void)c; return RATE; }
bool __wrap_sound_card_runs(const struct sound_card *c) { (void)c; return fake.runs; }
void __wrap_sound_card_close(struct sound_card *c) { (void)c; }

enum tc_status __wrap_sound_card_start(struct sound_card *c, struct tc_problem *why)
{
    (void)c, (void)why;
    fake.runs = true;
    return TC_OK;
}

enum tc_status __wrap_sound_card_open(struct sound_card **out, const char *name, double rate, sound_card_fill *fill, void *user,
                                      struct tc_problem *why)
{
    (void)name, (void)why;
    assert_near(rate, RATE, 0);
    *out = (struct sound_card *)&fake;
    fake.fill = fill;
    fake.user = user;
    return TC_OK;
}

/* When a frame is heard, by the machine's clock. */
static double heard_at(int64_t frame)
{
    return 100 + DELAY_S + (double)frame / RATE / fake.speed;
}

static double noise(void)
{
    fake.seed = fake.seed * 1664525u + 1013904223u;
    return fake.noise_s * (double)(fake.seed >> 8) / (1 << 24);
}

/* The card takes what it needs until `until`: each piece DELAY_S before it is heard, or a little later. */
static void run_card(struct sound_out *o, double until)
{
    float piece[PIECE];
    while (heard_at(fake.frame) - DELAY_S <= until) {
        while (!stuck && !sound_out_ready(o)) sched_yield(); /* the feeder has real time only */
        double at = heard_at(fake.frame) - DELAY_S + noise();
        if (at > now) now = at;
        fake.fill(fake.user, piece, PIECE, heard_at(fake.frame) + noise());
        bool sounds = piece[0] != 0.0f;
        if (sounds && fake.show_at < 0) fake.show_at = fake.frame;
        int64_t show = fake.frame - fake.show_at;
        for (int i = 0; sounds && i < PIECE; i++) /* sample i of a lap is (i + 1) / 2^17 */
            fake.broken += llround((double)piece[i] * (1 << 17)) != (show + i) % LAP_FRAMES + 1;
        fake.frame += PIECE;
    }
}

/* What is left open since its card is gone. */
static struct sound_out *volatile left[4]; /* volatile: kept, though nobody reads it */

static void leave(struct sound_out *o)
{
    static int count;
    sound_out_close(o);
    left[count++] = o;
}

static struct sound_out *open_sound(double speed, double noise_s)
{
    static const char name[] = "lap.wav";
    struct bytes b = { 0 };
    bytes_put(&b, "RIFF\0\0\0\0WAVE", 12);
    wav_fmt(&b, &(struct wav){ .tag = 3, .channels = 1, .rate = RATE, .bits = 32 });
    bytes_put(&b, "data", 4);
    bytes_number(&b, LAP_FRAMES * 4, 4);
    for (int i = 0; i < LAP_FRAMES; i++) bytes_put(&b, &(float){ (float)(i + 1) / (1 << 17) }, 4);
    wav_end(&b);
    bytes_save(&b, scratch_at(name));
    free(b.data);
    now = 100;
    fake = (struct fake){ .speed = speed, .noise_s = noise_s, .show_at = -1, .seed = 1 };
    struct sound_out *o;
    struct tc_problem why;
    struct sound_plan plan = { .path = scratch_at(name), .lap_s = (double)LAP_FRAMES / RATE, .loop = true };
    if (sound_out_open(&o, &plan, NULL, &why) != TC_OK) fail_msg("%s", why.text);
    return o;
}

/* ---- Tests ---- */

/* Light frame f of a lap has level f % 250 + 1, but for a dark last one. */
static struct track make_track(const struct tc_rig *rig)
{
    struct track t;
    uint16_t levels[16] = { 0 };
    assert_int_equal(track_begin(&t, rig), TC_OK);
    for (int f = 0; f < LAP_FRAMES / RATE * LIGHT_RATE; f++) {
        levels[0] = (uint16_t)(f == LAP_FRAMES / RATE * LIGHT_RATE - 1 ? 0 : f % 250 + 1);
        assert_int_equal(track_add(&t, (int64_t)f * 1000000 / LIGHT_RATE, levels, NULL), TC_OK);
    }
    return t;
}

static void light_stays_with_the_sound_for_an_hour(void **state)
{
    (void)state;
    static const struct { double speed, noise_s; } cards[] = { { 1 + 1e-4, 0.004 }, { 1 - 1e-4, 0.004 }, { 1, 0 } };
    const double seconds = quick() ? 300 : 3600;
    struct tc_rig rig;
    assert_int_equal(tc_rig_builtin(&rig), TC_OK);
    struct track track = make_track(&rig);
    for (size_t c = 0; c < COUNT(cards); c++) {
        struct sound_out *o = open_sound(cards[c].speed, cards[c].noise_s);
        struct live l;
        struct tc_problem why;
        double first = 0, later = 0, last = 0;
        int64_t frames = 0, stalls = 0;
        assert_int_equal(live_begin(&l, &track, (double)LAP_FRAMES / RATE, true), TC_OK);
        run_card(o, 100.5);
        while (!sound_out_ready(o)) sched_yield();
        sound_out_start(o);
        while (now < 100 + seconds) {
            double at = now;
            struct sound_heard heard = sound_out_heard(o, at);
            struct live_news news = live_step(&l, at, heard.show_s, heard.until_s);
            if (news.fresh && l.next) { /* a light frame goes out: where is the sound? */
                double due = (double)l.lap * LAP_FRAMES / RATE + (double)(l.next - 1) / LIGHT_RATE;
                double truth = ((at - heard_at(fake.show_at)) * fake.speed);
                double off = fabs(truth - due);
                frames++;
                if (due < 10 && off > first) first = off;
                if (due >= 10 && off > later) later = off;
                if (due >= seconds - 60 && off > last) last = off;
            }
            stalls += l.stalled;
            assert_false(sound_out_lost(o, at, &why));
            double wait = news.wait_s < LIVE_GLANCE_S ? news.wait_s : LIVE_GLANCE_S;
            run_card(o, at + wait + 0.0001);
            if (now < at + wait + 0.0001) now = at + wait + 0.0001;
        }
        print_message("%g ppm: light within %.2f ms of the sound at the start, %.2f ms later, %.2f ms in the last minute\n",
                      (cards[c].speed - 1) * 1e6, 1000 * first, 1000 * later, 1000 * last);
        assert_int_equal(fake.broken, 0);
        assert_int_equal(stalls, 0);
        assert_true(frames > (int64_t)(seconds - 2) * LIGHT_RATE - 100);
        assert_true(first < 1.0 / LIGHT_RATE && later < 1.0 / LIGHT_RATE / 2);
        live_clear(&l);
        sound_out_close(o);
    }
    track_clear(&track);
    tc_rig_clear(&rig);
}

/* A card that takes nothing more is no clock: the show's second stands, and the card is silent from its last piece on. */
static void a_card_that_stops_is_seen_by_its_silence(void **state)
{
    (void)state;
    struct sound_out *o = open_sound(1, 0);
    struct tc_problem why = { "" };
    run_card(o, 101);
    sound_out_start(o);
    for (double to = 101; to < 104; to += 0.01) {
        run_card(o, to);
        now = to;
        struct sound_heard h = sound_out_heard(o, now);
        if (to > 101.2) assert_true(h.show_s > 0 && now < h.until_s);
    }
    double stopped = now, given = (double)(fake.frame - fake.show_at) / RATE;
    for (; now < stopped + 2.9; now = now + 0.01) {
        struct sound_heard h = sound_out_heard(o, now);
        assert_true(h.show_s <= given + 1e-9);
        if (now - stopped > 0.09) assert_true(h.until_s <= now);
        assert_false(sound_out_lost(o, now, &why));
    }
    now = stopped + 3.1;
    assert_true(sound_out_lost(o, now, &why));
    assert_string_equal(why.text, "the sound card has taken no sound for 3 s");
    leave(o);
}

/* The card goes on while the file does not: silence, and the show stands; then both go on where it stood. */
static void a_sound_that_runs_dry_stands_still(void **state)
{
    (void)state;
    struct sound_out *o = open_sound(1, 0);
    struct tc_problem why;
    run_card(o, 101);
    sound_out_start(o);
    double to = 101, stood = 0, show = 0;
    for (; to < 103; to += 0.01) {
        run_card(o, to);
        now = to;
        sound_out_heard(o, now);
    }
    stuck = true;
    for (; to < 140; to += 0.01) { /* what lies ready lasts for up to 16 s at this rate */
        run_card(o, to);
        now = to;
        while (sound_out_gaps(o) && !waiting) sched_yield(); /* what the feeder had already read */
        struct sound_heard h = sound_out_heard(o, now);
        if (h.show_s > show + 1e-9) stood = now;
        show = h.show_s > show ? h.show_s : show;
        assert_false(sound_out_lost(o, now, &why));
    }
    assert_in_range(stood, 103, 125);
    assert_true(sound_out_heard(o, now).until_s < stood + 0.2);
    assert_true(sound_out_gaps(o) > 100);
    stuck = false;
    fake.show_at = fake.frame - (int64_t)llround(show * RATE); /* for the check of samples, which begins anew */
    while (!sound_out_ready(o)) sched_yield();
    for (; to < 141; to += 0.01) {
        run_card(o, to);
        now = to;
        sound_out_heard(o, now);
    }
    struct sound_heard h = sound_out_heard(o, now);
    assert_true(now < h.until_s);
    assert_near(h.show_s, show + 1, 0.15);
    sound_out_close(o);
}

static void a_card_that_keeps_no_time_is_refused(void **state)
{
    (void)state;
    struct sound_out *o = open_sound(4, 0);
    struct tc_problem why = { "" };
    sound_out_start(o);
    bool lost = false;
    for (double to = 100; to < 102 && !lost; to += 0.01) {
        run_card(o, to);
        now = to;
        sound_out_heard(o, now);
        lost = sound_out_lost(o, now, &why);
    }
    assert_true(lost);
    assert_non_null(strstr(why.text, "faster than it can be heard"));
    sound_out_close(o);
}

static void a_card_that_is_gone_is_said(void **state)
{
    (void)state;
    struct sound_out *o = open_sound(1, 0);
    struct tc_problem why = { "" };
    sound_out_start(o);
    run_card(o, 100.5);
    assert_false(sound_out_lost(o, now, &why));
    fake.runs = false;
    assert_true(sound_out_lost(o, now, &why));
    assert_string_equal(why.text, "the sound card is gone");
    leave(o);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(light_stays_with_the_sound_for_an_hour),
        cmocka_unit_test(a_card_that_stops_is_seen_by_its_silence),
        cmocka_unit_test(a_sound_that_runs_dry_stands_still),
        cmocka_unit_test(a_card_that_keeps_no_time_is_refused),
        cmocka_unit_test(a_card_that_is_gone_is_said),
    };
    return cmocka_run_group_tests(tests, scratch_set_up, scratch_tear_down);
}
