/* An evening from end to end: what its order promises over many seeds, and
 * what its files promise each other. Loudness is measured again by libebur128
 * on the finished sound (ITU-R BS.1770), flashes by the tests' own counter. */
#include "evening.h"
#include "flash_brute.h"

#include <ebur128.h>
#include <sndfile.h>

#include "app/night/night_hear.h"
#include "app/night/night_join.h"
#include "app/night/night_order.h"
#include "words/csv.h"
#include "words/numbers.h"
#include "words/random.h"

/* ---- The order ---- */

enum { CLIPS_MOST = 60 };

static struct night_wish draw_wish(struct randomiser *r, uint64_t seed, size_t count)
{
    struct night_wish w = { .length_ms = 1000 * (600 + (int64_t)random_below(r, 14400)), .opening = NIGHT_NO_CLIP,
                            .closing = NIGHT_NO_CLIP, .seed = seed };
    w.gap_least_ms = (int64_t)random_below(r, 70000) - 10000;
    w.gap_most_ms = w.gap_least_ms + (int64_t)random_below(r, 120000);
    if (count > 2 && random_below(r, 2)) w.opening = 0;
    if (count > 2 && random_below(r, 2)) w.closing = count - 1;
    if (random_below(r, 3) == 0) {
        w.quiet_from_ms = w.length_ms / 4;
        w.quiet_to_ms = w.length_ms / 3;
    }
    return w;
}

static bool is_apart(const struct night_wish *w, size_t clip)
{
    return clip == w->opening || clip == w->closing;
}

/* No clip is one turn ahead of another that has not had its own. */
static void check_turns(const struct night_plan *p, const struct night_wish *w, size_t count)
{
    int had[CLIPS_MOST] = { 0 };
    size_t others = 0;
    for (size_t c = 0; c < count; c++) others += !is_apart(w, c);
    for (size_t i = 0; i < p->count; i++) {
        size_t clip = p->turns[i].clip;
        had[clip]++;
        if (is_apart(w, clip)) {
            assert_int_equal(had[clip], 1);
            assert_true(clip == w->opening ? i == 0 : i == p->count - 1);
            continue;
        }
        for (size_t c = 0; c < count; c++)
            if (!is_apart(w, c)) assert_true(had[clip] <= had[c] + 1);
        if (i > 0 && others > 2) assert_true(p->turns[i - 1].clip != clip);
    }
}

static void check_times(const struct night_plan *p, const struct night_wish *w, const struct night_clip *clips)
{
    bool quiet = w->quiet_to_ms > w->quiet_from_ms;
    int64_t end = 0;
    for (size_t i = 0; i < p->count; i++) {
        const struct night_turn *t = &p->turns[i];
        assert_int_equal(t->end_ms - t->start_ms, clips[t->clip].length_ms);
        assert_true(t->end_ms <= w->length_ms);
        if (quiet) assert_true(t->end_ms <= w->quiet_from_ms || t->start_ms >= w->quiet_to_ms);
        if (i == 0) continue;
        if (p->turns[i - 1].end_ms > end) end = p->turns[i - 1].end_ms;
        int64_t gap = t->start_ms - end, before = clips[p->turns[i - 1].clip].length_ms, own = clips[t->clip].length_ms;
        int64_t half = (before < own ? before : own) / 2;
        assert_true(gap >= w->gap_least_ms && gap >= -half);
        assert_true(t->start_ms >= p->turns[i - 1].start_ms);
        if (!quiet) assert_true(gap <= w->gap_most_ms || gap == -half);
    }
}

/* Within a storm clips come nearer, then leave. */
static void check_storms(const struct night_plan *p, const struct night_clip *clips)
{
    for (size_t i = 1; i + 1 < p->count; i++) {
        const struct night_turn *t = &p->turns[i];
        if (!t->storm || t[-1].storm != t->storm || t[1].storm != t->storm) continue;
        int before = clips[t[-1].clip].nearness, here = clips[t->clip].nearness, after = clips[t[1].clip].nearness;
        assert_false(here < before && here < after);
    }
}

static void expect_same_turns(const struct night_plan *one, const struct night_plan *other)
{
    for (size_t i = 0; i < one->count; i++) {
        const struct night_turn *a = &one->turns[i], *b = &other->turns[i];
        assert_int_equal(a->start_ms, b->start_ms);
        assert_int_equal(a->end_ms, b->end_ms);
        assert_int_equal(a->clip, b->clip);
        assert_int_equal(a->storm, b->storm);
        assert_true(a->gain_db == b->gain_db);
    }
}

static void orders_keep_their_rules(void **state)
{
    (void)state;
    size_t whole_length = 0, long_enough = 0;
    for (uint64_t seed = 1; seed <= 400; seed++) {
        struct randomiser r = random_keyed(seed, 77, 1);
        size_t count = 1 + random_below(&r, CLIPS_MOST);
        struct night_clip clips[CLIPS_MOST];
        for (size_t i = 0; i < count; i++)
            clips[i] = (struct night_clip){ 1000 + (int64_t)random_below(&r, 60000), (int)random_below(&r, 101) };
        struct night_wish w = draw_wish(&r, seed, count);
        struct night_plan p, again;
        assert_int_equal(night_plan_make(&p, &w, clips, count), TC_OK);
        assert_int_equal(night_plan_make(&again, &w, clips, count), TC_OK);
        assert_true(p.count > 0);
        assert_int_equal(p.count, again.count);
        expect_same_turns(&p, &again);
        check_turns(&p, &w, count);
        check_times(&p, &w, clips);
        check_storms(&p, clips);
        if (w.closing != NIGHT_NO_CLIP) assert_int_equal(p.turns[p.count - 1].clip, w.closing);
        if (w.opening != NIGHT_NO_CLIP) assert_int_equal(p.turns[0].clip, w.opening);
        bool quiet = w.quiet_to_ms > w.quiet_from_ms;
        long_enough += !quiet;
        whole_length += !quiet && w.length_ms - night_plan_end(&p) < 1000;
        night_plan_clear(&p);
        night_plan_clear(&again);
    }
    assert_true(2 * whole_length > long_enough); /* gaps mostly take up what is left */
}

/* ---- Reading orders ---- */

static const char *const three[] = { "far, away.wav", "near.wav", "=sum.wav" };
static const struct night_clip three_clips[] = { { 4000, 10 }, { 5000, 90 }, { 6500, 40 } };
static const double three_gains[] = { -3.0, 2.5, 0.0 }, three_most[] = { 20.0, 4.0, 9.9 };
static const struct night_list three_list = { three, three_clips, three_gains, three_most, 3 };

struct text {
    char bytes[1 << 16];
    size_t size;
};

static enum tc_status put_text(void *to, const char *bytes, size_t size)
{
    struct text *t = to;
    assert_true(t->size + size < sizeof t->bytes);
    memcpy(t->bytes + t->size, bytes, size);
    t->size += size;
    return TC_OK;
}

static void orders_read_back(void **state)
{
    (void)state;
    struct night_wish w = { .length_ms = 900000, .gap_least_ms = 1234, .gap_most_ms = 40000, .opening = 2,
                            .closing = NIGHT_NO_CLIP, .seed = 9 };
    struct night_plan p, back;
    assert_int_equal(night_plan_make(&p, &w, three_clips, 3), TC_OK);
    for (size_t i = 0; i < p.count; i++) p.turns[i].gain_db = three_gains[p.turns[i].clip];
    static struct text text;
    text.size = 0;
    assert_int_equal(night_order_write(&p, &three_list, (struct night_ground){ .seed = -9, .day_s = 70200 },
                                       (struct tc_sink){ put_text, &text }), TC_OK);
    struct night_ground ground = { .day_s = NIGHT_NO_DAY };
    struct tc_problem why = { "" };
    assert_int_equal(night_order_read(text.bytes, text.size, "x", &three_list, &back, &ground, &why), TC_OK);
    assert_int_equal(ground.seed, -9);
    assert_int_equal(ground.day_s, 70200);
    assert_int_equal(back.count, p.count);
    for (size_t i = 0; i < p.count; i++) {
        assert_int_equal(back.turns[i].start_ms, p.turns[i].start_ms);
        assert_int_equal(back.turns[i].end_ms, p.turns[i].end_ms);
        assert_int_equal(back.turns[i].clip, p.turns[i].clip);
        assert_int_equal(back.turns[i].storm, p.turns[i].storm);
        assert_near(back.turns[i].gain_db, p.turns[i].gain_db, 1e-9);
    }
    night_plan_clear(&p);
    night_plan_clear(&back);
}

static void orders_say_what_is_wrong(void **state)
{
    (void)state;
    static const struct { const char *text, *said; } wrong[] = {
        { "", "there is no clip" },
        { "start_s\n1\n", "line 1: file" },
        { "file\nnear.wav\n", "line 1: start_s" },
        { "start_s,file\n1,nobody.wav\n", "line 2: file: 'nobody.wav'" },
        { "start_s,file\n1,neer.wav\n", "that can be heard; did you mean 'near.wav'?" },
        { "start_s,file\n1,\n", "line 2: file: '' is none of the folder's recordings that can be heard" },
        { "start_s,file\n,near.wav\n", "line 2: start_s" },
        { "start_s,file\nsoon,near.wav\n", "line 2: start_s: 'soon' is not a number of seconds from 0 to 86400" },
        { "start_s,file\n0,near.wav\n1,near.wav\n1,near.wav\n1,near.wav\n1,near.wav\n1,near.wav\n1,near.wav\n1,near.wav\n4,near.wav\n", "line 10: start_s: more clips" },
        { "start_s,file\n4,near.wav\n0,near.wav\n1,near.wav\n1,near.wav\n1,near.wav\n1,near.wav\n1,near.wav\n1,near.wav\n1,near.wav\n", "line 2: start_s: more clips" },
        { "start_s,end_s,file\n3,3,near.wav\n", "line 2: end_s" },
        { "start_s,file,gain_db\n3,near.wav,4.2\n", "line 2: gain_db: 4.2 is too loud for near.wav (at most 4); leave it empty to have it measured" },
        { "start_s,file,gain_db\n3,near.wav,loud\n", "line 2: gain_db: 'loud' is not a number from -100 to 4" },
        { "start_s,end_s,file,whole_end_s\n3,2,near.wav,8\n", "line 2: end_s: is not after start_s" },
        { "start_s,file,seed\n3,near.wav,x\n", "line 2: seed" },
        { "start_s,file,clock\n3,near.wav,24:00\n", "line 2: clock" },
        { "start_s,file\n3,\"near.wav\n", "line 2" },
    };
    for (size_t i = 0; i < COUNT(wrong); i++) {
        struct night_plan p;
        struct tc_problem why = { "" };
        struct night_ground ground = { .seed = 5, .day_s = NIGHT_NO_DAY };
        assert_int_equal(night_order_read(wrong[i].text, strlen(wrong[i].text), "o.csv", &three_list, &p, &ground,
                                          &why), TC_ERR_FORM);
        if (!strstr(why.text, wrong[i].said)) fail_msg("'%s' does not say '%s'", why.text, wrong[i].said);
        assert_int_equal(p.count, 0);
    }
    /* As a spreadsheet with decimal commas writes it; cut short; gain as measured. */
    static const char edited[] = "file;start_s;end_s\n'=sum.wav;1,5;3\nfar, away.wav;10;\n";
    struct night_plan p;
    struct night_ground ground = { .seed = 5, .day_s = NIGHT_NO_DAY };
    assert_int_equal(night_order_read(edited, strlen(edited), "o.csv", &three_list, &p, &ground, NULL), TC_OK);
    assert_int_equal(p.count, 2);
    assert_int_equal(ground.seed, 5);
    assert_int_equal(ground.day_s, NIGHT_NO_DAY);
    assert_int_equal(p.turns[0].start_ms, 1500);
    assert_int_equal(p.turns[0].end_ms, 3000);
    assert_int_equal(p.turns[1].end_ms, 14000);
    assert_near(p.turns[1].gain_db, -3, 1e-9);
    night_plan_clear(&p);
}

static void edited_orders_are_taken_as_meant(void **state)
{
    (void)state;
    /* Rows out of order; the second moved later, the third cut, the fourth moved past its old end with another file, the fifth
     * moved with its end, the last moved to where the day ends; most clocks tell of 19:30, two of them not. */
    static const char edited[] = "start_s,end_s,file,clock,whole_end_s\n"
        "60,65,near.wav,19:31:00,65\n"
        "12.5,15,near.wav,19:30:10,15\n"
        "20,22,near.wav,19:30:20,25\n"
        "42,37,\"far, away.wav\",19:30:30,37\n"
        "50,55,near.wav,19:30:50,53\n"
        "86399,86394,near.wav,,86394\n";
    static const int64_t starts[] = { 12500, 20000, 42000, 50000, 60000, 86399000 },
        ends[] = { 17500, 22000, 46000, 55000, 65000, 86400000 };
    struct night_plan p;
    struct night_ground ground = { .day_s = NIGHT_NO_DAY };
    struct tc_problem why = { "" };
    if (night_order_read(edited, strlen(edited), "o.csv", &three_list, &p, &ground, &why) != TC_OK)
        fail_msg("%s", why.text);
    assert_int_equal(p.count, COUNT(starts));
    for (size_t i = 0; i < COUNT(starts); i++) {
        assert_int_equal(p.turns[i].start_ms, starts[i]);
        assert_int_equal(p.turns[i].end_ms, ends[i]);
    }
    assert_int_equal(ground.day_s, 70200);
    assert_int_equal(ground.clocks_off, 2);
    night_plan_clear(&p);
}

static void times_are_read_and_told(void **state)
{
    (void)state;
    static const struct { const char *text; int64_t ms; } lengths[] = {
        { "4:00:00", 14400000 }, { "0:00:01", 1000 }, { "24:00:00", 86400000 }, { "24:00:01", -1 }, { "4:00", -1 }, { "1:60:00", -1 },
        { "", -1 }, { "1:00:00:00", -1 }, { "1:0:00", -1 }, { "-1:00:00", -1 }, { "1:00:00 ", -1 },
    };
    for (size_t i = 0; i < COUNT(lengths); i++) assert_int_equal(night_length_read(lengths[i].text), lengths[i].ms);
    char first[8], second[8];
    assert_true(night_range_read("20..180", first, second, sizeof first));
    assert_string_equal(first, "20");
    assert_string_equal(second, "180");
    assert_false(night_range_read("20.180", first, second, sizeof first));
    assert_false(night_range_read("20..123456789", first, second, sizeof first));
    assert_int_equal(night_after(23 * 3600 + 1800, 19 * 3600 + 1800), 4 * 3600000);
    assert_int_equal(night_after(1800, 23 * 3600), 5400000); /* over midnight */
    assert_string_equal(NIGHT_CLOCK(5400000, 23 * 3600), "00:30:00");
    assert_string_equal(NIGHT_CLOCK(5400499, NIGHT_NO_DAY), "1:30:00");
}

/* ---- A whole evening ---- */

static void assert_same_file(const struct evening *e, const char *one, const char *other, const char *ending)
{
    char a[600], b[600];
    size_t n = 0, m = 0;
    snprintf(a, sizeof a, "%s/%s%s", e->folder, one, ending);
    snprintf(b, sizeof b, "%s/%s%s", e->folder, other, ending);
    char *x = scratch_read(a, &n), *y = scratch_read(b, &m);
    assert_true(x && y);
    if (n != m || memcmp(x, y, n)) fail_msg("%s and %s differ", a, b);
    free(x);
    free(y);
}

static void an_evening_is_built_again_to_the_byte(void **state)
{
    (void)state;
    static const char *const endings[] = { ".flac", ".frames.csv", ".ramps.csv", ".events.csv", ".night.csv" };
    struct evening e = evening_begin();
    char first[600], edited[600];
    assert_int_equal(build(&e, NULL, JOINED_FLAC), TC_OK);
    assert_int_equal(e.out.left_out, 1);
    assert_true(e.out.light.cracks > 10);
    forget(&e);
    assert_int_equal(build(&e, NULL, JOINED_FLAC), TC_ERR_EXISTS);
    forget(&e);
    snprintf(e.name, sizeof e.name, "%s/two", e.folder);
    assert_int_equal(build(&e, NULL, JOINED_FLAC), TC_OK);
    forget(&e);
    /* The order carries its seed. */
    snprintf(first, sizeof first, "%s/eve.night.csv", e.folder);
    snprintf(e.name, sizeof e.name, "%s/three", e.folder);
    e.settings.seed = 1;
    assert_int_equal(build(&e, first, JOINED_FLAC), TC_OK);
    forget(&e);
    for (size_t i = 0; i < COUNT(endings); i++) {
        assert_same_file(&e, "eve", "two", endings[i]);
        assert_same_file(&e, "eve", "three", endings[i]);
    }
    /* Another seed, another evening; what lies in the folder is not taken for a recording. */
    snprintf(e.name, sizeof e.name, "%s/four", e.clips);
    e.settings.seed = 5;
    assert_int_equal(build(&e, NULL, JOINED_FLAC), TC_OK);
    assert_int_equal(e.out.recording_count, 4);
    forget(&e);
    snprintf(e.name, sizeof e.name, "%s/five", e.folder);
    assert_int_equal(build(&e, NULL, JOINED_FLAC), TC_OK);
    assert_int_equal(e.out.recording_count, 4);
    snprintf(edited, sizeof edited, "%s/five.night.csv", e.folder);
    char *x = scratch_read(first, NULL), *y = scratch_read(edited, NULL);
    assert_true(x && y && strcmp(x, y));
    free(x);
    free(y);
    evening_end(&e);
}

/* The sound from one moment to another, stereo. */
static float *read_sound(const char *path, int *rate, int64_t *frames)
{
    SF_INFO info = { 0 };
    SNDFILE *in = sf_open(path, SFM_READ, &info);
    assert_non_null(in);
    assert_int_equal(info.channels, 2);
    float *all = calloc((size_t)info.frames * 2 + 2, sizeof *all);
    assert_int_equal(sf_readf_float(in, all, info.frames), info.frames);
    sf_close(in);
    *rate = info.samplerate;
    *frames = info.frames;
    return all;
}

static double measure_lufs(const float *stereo, int64_t frames, int rate)
{
    double lufs = 0;
    ebur128_state *state = ebur128_init(2, (unsigned long)rate, EBUR128_MODE_I);
    ebur128_add_frames_float(state, stereo, (size_t)frames);
    ebur128_loudness_global(state, &lufs);
    ebur128_destroy(&state);
    return lufs;
}

static void check_sound(const struct evening *e, enum joined_form form)
{
    int rate;
    int64_t frames;
    const struct night_plan *p = &e->out.plan;
    float *all = read_sound(e->out.sound_path, &rate, &frames);
    assert_int_equal(rate, 44100); /* the highest of the clips */
    assert_int_equal(frames, p->turns[p->count - 1].end_ms * rate / 1000);
    int64_t end = 0;
    for (size_t i = 0; i < p->count; i++) {
        const struct night_turn *t = &p->turns[i];
        int64_t start = t->start_ms * rate / 1000;
        for (int64_t f = 2 * end; f < 2 * start; f++) assert_true(all[f] == 0); /* silence between clips */
        end = t->end_ms * rate / 1000;
        /* Fades begin and end in nothing: the first and the last 0.2 ms are under 1 % (-40 dB). */
        for (int k = 0; k < 16; k++)
            assert_true(fabsf(all[2 * start + k]) < 0.01f && fabsf(all[2 * end - 1 - k]) < 0.01f);
        const struct night_recording *r = &e->out.recordings[t->clip];
        double want = r->gain_db < r->gain_most_db ? -23 : r->lufs + r->gain_db;
        /* EBU R 128, tolerance of measurements */
        assert_near(measure_lufs(all + 2 * start, end - start, rate), want, 0.2);
    }
    float most = 0;
    for (int64_t f = 0; f < 2 * frames; f++) most = fmaxf(most, fabsf(all[f]));
    assert_near(20 * log10((double)most), e->out.sound.peak_db, 0.01);
    assert_true(e->out.sound.peak_db < 0);
    assert_near(measure_lufs(all, frames, rate), e->out.sound.lufs, 0.2);
    assert_int_equal(form == JOINED_WAV, strstr(e->out.sound_path, ".wav") != NULL);
    free(all);
}

/* Flashes counted by other code, across every seam; gaps are black. Returns
 * how many light frames lie in gaps. */
static size_t check_frames(const struct evening *e)
{
    size_t size = 0, channels = e->rig.channel_count, rows = 0, room = 90 * 40 + 200;
    char *text = scratch_read(e->out.light.paths[RUN_FRAMES], &size);
    assert_non_null(text);
    struct csv *csv = csv_open(text, size);
    double *lamp = calloc(room * channels, sizeof *lamp);
    int64_t *us = calloc(room, sizeof *us);
    assert_int_equal(csv_next(csv), CSV_ROW);
    const struct night_plan *p = &e->out.plan;
    size_t black = 0;
    while (csv_next(csv) == CSV_ROW) {
        double v = 0, sum = 0;
        assert_true(rows < room && csv_number(csv, 0, &v));
        us[rows] = (int64_t)floor(1e6 * v + 0.5);
        for (size_t c = 0; c < channels; c++) {
            assert_true(csv_number(csv, c + 1, &v));
            sum += v;
            lamp[rows * channels + c] = brute_lamp(&e->rig.channels[c], v);
        }
        for (size_t i = 1; i < p->count; i++)
            if (us[rows] > 1000 * p->turns[i - 1].end_ms + 3000000 && us[rows] < 1000 * p->turns[i].start_ms) {
                assert_true(sum == 0);
                black++;
            }
        rows++;
    }
    int most = brute_show_each(&e->rig, lamp, us, rows, 7);
    assert_true(most > 2 && most <= 2 * (int)e->settings.flash_limit);
    free(lamp);
    free(us);
    csv_close(csv);
    free(text);
    return black;
}

/* A running order to be written, in a file of this name; its path in `path`. */
static FILE *order_open(const struct evening *e, const char *name, char path[600])
{
    snprintf(path, 600, "%s/%s", e->folder, name);
    FILE *out = fopen(path, "w");
    assert_non_null(out);
    return out;
}

/* Clips that follow each other at once: their cracks share a second. */
static void the_limit_holds_over_seams_without_a_gap(void **state)
{
    (void)state;
    struct evening e = evening_begin();
    char order[600];
    FILE *out = order_open(&e, "close.csv", order);
    fputs("start_s,end_s,file\n", out);
    for (int i = 0; i < 40; i++) /* the first crack of each clip is at 0.4 s: twice a second */
        fprintf(out, "%d.%d,%d.%d,%s\n", i / 2, i % 2 * 5, (i + 1) / 2, (i + 1) % 2 * 5, i % 3 ? "a.wav" : "b.wav");
    fclose(out);
    if (build(&e, order, JOINED_FLAC) != TC_OK) fail_msg("%s", e.why.text);
    assert_int_equal(e.out.plan.count, 40);
    assert_int_equal(e.out.light.length_ms, 20000);
    assert_true(e.out.light.cracks >= 30);
    check_frames(&e);
    evening_end(&e);
}

/* Three clips at a time: their cracks come in between each other. */
static void the_limit_holds_where_clips_overlap(void **state)
{
    (void)state;
    struct evening e = evening_begin();
    char order[600];
    FILE *out = order_open(&e, "close.csv", order);
    fputs("start_s,file\n", out);
    for (int i = 0; i < 24; i++) fprintf(out, "%.3f,%s\n", 2.37 * i, i % 3 ? "a.wav" : "b.wav");
    fclose(out);
    if (build(&e, order, JOINED_FLAC) != TC_OK) fail_msg("%s", e.why.text);
    check_frames(&e);
    struct tc_analysis all;
    assert_int_equal(night_join(&e.out, &e.settings, 44100, &all), TC_OK);
    for (size_t i = 1; i < all.event_count; i++) assert_true(all.events[i - 1].start_ms <= all.events[i].start_ms);
    for (size_t i = 1; i < all.candidate_count; i++)
        assert_true(all.candidates[i - 1].at_ms <= all.candidates[i].at_ms);
    tc_analysis_clear(&all);
    assert_true(e.out.sound.peak_db <= -0.99);
    evening_end(&e);
}

static void sound_and_light_keep_their_promises(void **state)
{
    (void)state;
    for (int form = JOINED_FLAC; form <= JOINED_WAV; form++) {
        struct evening e = evening_begin();
        if (build(&e, NULL, (enum joined_form)form) != TC_OK) fail_msg("%s", e.why.text);
        assert_int_equal(e.out.left_out, 1); /* the broken one */
        check_sound(&e, (enum joined_form)form);
        assert_true(check_frames(&e) > 100);
        evening_end(&e);
    }
}

/* Every crack of a clip is found in the evening, as much later as the clip. */
static void the_evening_has_all_moments_of_its_clips(void **state)
{
    (void)state;
    struct evening e = evening_begin();
    assert_int_equal(build(&e, NULL, JOINED_FLAC), TC_OK);
    struct tc_analysis all;
    assert_int_equal(night_join(&e.out, &e.settings, 44100, &all), TC_OK);
    size_t at = 0;
    for (size_t i = 0; i < e.out.plan.count; i++) {
        const struct night_turn *t = &e.out.plan.turns[i];
        const struct tc_analysis *one = &e.out.recordings[t->clip].heard;
        for (size_t k = 0; k < one->event_count; k++, at++) {
            assert_int_equal(all.events[at].start_ms, one->events[k].start_ms + t->start_ms);
            assert_near(all.events[at].level_dbfs, one->events[k].level_dbfs + t->gain_db, 0.01);
        }
    }
    assert_int_equal(at, all.event_count);
    assert_true(at > 20);
    tc_analysis_clear(&all);
    evening_end(&e);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(orders_keep_their_rules),
        cmocka_unit_test(orders_read_back),
        cmocka_unit_test(orders_say_what_is_wrong),
        cmocka_unit_test(edited_orders_are_taken_as_meant),
        cmocka_unit_test(times_are_read_and_told),
        cmocka_unit_test(an_evening_is_built_again_to_the_byte),
        cmocka_unit_test(sound_and_light_keep_their_promises),
        cmocka_unit_test(the_limit_holds_over_seams_without_a_gap),
        cmocka_unit_test(the_limit_holds_where_clips_overlap),
        cmocka_unit_test(the_evening_has_all_moments_of_its_clips),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
