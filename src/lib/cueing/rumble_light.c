/* Rumbles: the floods follow the swells of the envelope, slowly and low, like
 * the inside of a cloud, and are black between them; now and then a glimmer
 * where the sound has an attack.
 *
 * Light is set at knots, KNOT_MS apart, and goes straight between them, so a
 * change takes its time and never flashes. */
#include "cueing/rumble_light.h"

#include <math.h>

#include "words/memory.h"
#include "words/units.h"

enum { KNOT_MS = 400 };
/* A knot shows the mean power of this much of the envelope around it. */
enum { AROUND_MS = 1000 };
/* Light belongs to the swells, and between them it is black: from this much
 * above the mean power of the seconds around, in decibels, up to full. */
enum { SWELL_WITHIN_MS = 6000 };
#define SWELL_FROM_DB 0.5
#define SWELL_DB 2.0
/* From the loudest rumble of the recording down to black, in decibels. */
#define RANGE_DB 24.0
/* Light goes with a power of the share of that range. */
#define RANGE_POWER 1.5
/* The two sides drift apart by this much, over so many milliseconds. */
#define DRIFT 0.35
enum { DRIFT_MS = 2600 };
/* What is fainter than this isn't worth a ramp. */
#define FAINTEST 0.004

/* Glimmers: attacks too faint for a crack, by this much sensitivity at most. */
#define GLIMMER_MORE_SENSITIVE 45.0
/* They stay this far from cracks and from each other. */
enum { GLIMMER_FROM_CRACK_MS = 700, GLIMMER_APART_MS = 1500 };
/* Their light, in shares of the loudest rumble's, one side of the sky alone;
 * they swell and fade, and are too faint to count as flashes. */
#define GLIMMER_LEAST 0.8
#define GLIMMER_MOST 1.5
#define GLIMMER_SWELL_MS 90.0
#define GLIMMER_FADE_MS 480.0
/* The most that a glimmer adds to all floods together. */
#define GLIMMER_SUM 0.05

struct rumble_walk {
    double power[256];      /* of an envelope byte */
    double loudest_db;      /* of all knots */
    size_t event;           /* the next rumble */
    int64_t reach_ms;       /* rumbles have been shown up to here */
    int64_t knot_ms, end_ms;/* within the one under way; knot_ms >= end_ms = none */
    double was[2];          /* light of the sides at the last knot */
    uint32_t was_frame;
    size_t candidate;       /* the next, for glimmers */
    int64_t glimmer_ms;     /* the last */
};

/* ---- Loudness ---- */

static double loudness_db(const struct rumble_walk *w, const struct tc_analysis *a, int64_t rate, int64_t ms,
                          int64_t around_ms)
{
    int64_t from = frame_at(ms - around_ms / 2, rate), to = frame_at(ms + around_ms / 2, rate);
    double sum = 0;
    int64_t n = 0;
    for (int64_t f = from; f <= to && f < (int64_t)a->envelope_count; f++, n++) sum += w->power[a->envelope[f]];
    return n ? power_db(sum / (double)n) : -200;
}

static double loudest_of(const struct rumble_walk *w, const struct draft *d)
{
    const struct tc_analysis *a = d->heard;
    double loudest = -200;
    int64_t reach = 0; /* overlapping rumbles (made by hand) are looked at once */
    for (size_t i = 0; i < a->event_count; i++) {
        const struct tc_event *e = &a->events[i];
        if (e->kind != TC_RUMBLE) continue;
        for (int64_t ms = (e->start_ms > reach ? e->start_ms : reach) + KNOT_MS; ms < e->end_ms; ms += KNOT_MS)
            loudest = fmax(loudest, loudness_db(w, a, d->out->frame_rate, ms, AROUND_MS));
        if (e->end_ms > reach) reach = e->end_ms;
    }
    return loudest;
}

enum tc_status rumble_walk_create(struct rumble_walk **out, struct draft *d)
{
    struct rumble_walk *w = memory_new(1, sizeof *w);
    *out = w;
    if (!w) return TC_ERR_MEMORY;
    for (int i = 0; i < 256; i++) w->power[i] = level_byte_power((uint8_t)i);
    w->loudest_db = loudest_of(w, d);
    w->glimmer_ms = INT64_MIN / 2;
    return TC_OK;
}

void rumble_walk_destroy(struct rumble_walk *w)
{
    memory_free(w);
}

/* ---- Light of a side ---- */

/* Wanders between 0 and 1, straight from one random value to the next. */
static double wander(const struct draft *d, int side, int64_t ms)
{
    int64_t cell = ms / DRIFT_MS;
    double along = (double)(ms % DRIFT_MS) / DRIFT_MS, value[2];
    for (int i = 0; i < 2; i++) {
        struct randomiser r = draft_random(d, DRAW_CLOUD, 2 * (cell + i) + side);
        value[i] = random_uniform(&r);
    }
    return value[0] + along * (value[1] - value[0]);
}

static double side_light(const struct rumble_walk *w, const struct draft *d, int side, int64_t ms)
{
    double db = loudness_db(w, d->heard, d->out->frame_rate, ms, AROUND_MS);
    double share = 1 - (w->loudest_db - db) / RANGE_DB;
    if (share <= 0) return 0;
    double swell = (db - loudness_db(w, d->heard, d->out->frame_rate, ms, SWELL_WITHIN_MS) - SWELL_FROM_DB) / SWELL_DB;
    if (swell <= 0) return 0;
    share *= fmin(swell, 1);
    double light = d->settings->rumble_light * d->settings->flood_share * pow(fmin(share, 1), RANGE_POWER);
    light *= 1 - DRIFT * wander(d, side, ms);
    return light < FAINTEST ? 0 : light;
}

/* ---- Ramps ---- */

static void ramp_to(struct rumble_walk *w, struct draft *d, int64_t ms, bool dark)
{
    uint32_t frame = draft_frame(d, ms, 0);
    bool one_side = d->paths.sets.flood_count < 2;
    for (int side = 0; side < (one_side ? 1 : 2); side++) {
        double light = dark ? 0 : side_light(w, d, side, ms);
        uint16_t set = (uint16_t)(TC_SET_FLOODS + (one_side ? TC_SIDE_BOTH : side ? TC_SIDE_SECOND : TC_SIDE_FIRST));
        if (frame > w->was_frame && (light > 0 || w->was[side] > 0))
            draft_pulse(d, (struct tc_pulse){ .frame = frame, .channel = set, .peak = light_word(light),
                                            .glow = light_word(w->was[side]),
                                            .rise = (uint16_t)(frame - w->was_frame), .hold = 1 });
        w->was[side] = light;
    }
    w->was_frame = frame;
}

/* ---- Glimmers ---- */

/* True if a crack starts within `gap` of a moment. */
static bool crack_near(const struct tc_analysis *a, int64_t ms, int64_t gap)
{
    size_t low = 0, high = a->event_count;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (a->events[middle].start_ms < ms - gap) low = middle + 1;
        else high = middle;
    }
    for (; low < a->event_count && a->events[low].start_ms <= ms + gap; low++)
        if (a->events[low].kind == TC_CRACK) return true;
    return false;
}

static void glimmer(struct draft *d, uint32_t event, int64_t at_ms, struct randomiser *r)
{
    double all = d->settings->rumble_light * d->settings->flood_share;
    double light = all * (GLIMMER_LEAST + (GLIMMER_MOST - GLIMMER_LEAST) * random_uniform(r));
    enum tc_side side = random_below(r, 2) ? TC_SIDE_FIRST : TC_SIDE_SECOND;
    double share = d->paths.sets.flood_count < 2 ? 1
        : (double)((d->paths.sets.flood_count + 1) / 2) / (double)d->paths.sets.flood_count;
    light = fmin(light, GLIMMER_SUM / share);
    uint32_t first = (uint32_t)d->out->pulse_count;
    draft_pulse(d, (struct tc_pulse){
        .frame = draft_frame(d, at_ms, 0), .peak = light_word(light),
        .channel = (uint16_t)(TC_SET_FLOODS + (d->paths.sets.flood_count < 2 ? TC_SIDE_BOTH : side)),
        .rise = (uint16_t)draft_frames(d, GLIMMER_SWELL_MS), .fall = (uint16_t)(1 + draft_frames(d, GLIMMER_FADE_MS)),
    });
    draft_stroke(d, (struct tc_stroke){
        .frame = draft_frame(d, at_ms, 0), .event = event, .heard = true, .tip = TC_NO_TIP,
        .light = (float)(light * share), .first_pulse = first, .pulse_count = 1,
    });
}

/* Attacks between two knots that are no cracks may show a glimmer. */
static void glimmers(struct rumble_walk *w, struct draft *d, int64_t from_ms, int64_t to_ms)
{
    const struct tc_analysis *a = d->heard;
    for (; w->candidate < a->candidate_count && a->candidates[w->candidate].at_ms < to_ms; w->candidate++) {
        const struct tc_candidate *c = &a->candidates[w->candidate];
        if (c->at_ms < from_ms || c->at_ms - w->glimmer_ms < GLIMMER_APART_MS) continue;
        if ((double)c->found_at <= a->sensitivity) continue; /* deleted by hand */
        if ((double)c->found_at > a->sensitivity + GLIMMER_MORE_SENSITIVE) continue;
        if (crack_near(a, c->at_ms, GLIMMER_FROM_CRACK_MS)) continue;
        struct randomiser r = draft_random(d, DRAW_GLIMMER, c->at_ms);
        if (random_uniform(&r) >= d->settings->glimmer) continue;
        w->glimmer_ms = c->at_ms;
        glimmer(d, (uint32_t)(w->event - 1), c->at_ms, &r);
    }
}

/* ---- The walk ---- */

/* The next rumble within the part; overlapping ones (made by hand) are one. */
static bool next_rumble(struct rumble_walk *w, struct draft *d)
{
    const struct tc_analysis *a = d->heard;
    while (w->event < a->event_count) {
        const struct tc_event *e = &a->events[w->event++];
        if (e->kind != TC_RUMBLE) continue;
        int64_t start = e->start_ms, end = e->end_ms;
        if (start < d->from_ms) start = d->from_ms;
        if (start < w->reach_ms) start = w->reach_ms;
        if (end > d->to_ms) end = d->to_ms;
        if (end - start < 2) continue;
        w->knot_ms = start;
        w->end_ms = w->reach_ms = end;
        w->was[0] = w->was[1] = 0;
        w->was_frame = draft_frame(d, start, 0);
        return true;
    }
    return false;
}

void rumble_walk_until(struct rumble_walk *w, struct draft *d, uint32_t frame)
{
    if (!d->paths.sets.flood_count || !(d->settings->rumble_light > 0)) return;
    for (;;) {
        if (w->knot_ms >= w->end_ms && !next_rumble(w, d)) return;
        while (w->knot_ms < w->end_ms) {
            if (w->was_frame >= frame) return;
            int64_t next = w->knot_ms + KNOT_MS;
            /* The last knot is black; a short rest is added to the one before. */
            if (next + KNOT_MS / 2 > w->end_ms) next = w->end_ms;
            glimmers(w, d, w->knot_ms, next);
            ramp_to(w, d, next, next == w->end_ms);
            w->knot_ms = next;
        }
    }
}
