#include "io/sound/under.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "io/sound/fade.h"
#include "io/sound/voice.h"

enum { SIDES = 2, BLOCK = 1024 };
/* So long a track, as a loop of rain, is kept in memory (23 MB) rather than decoded and converted for every round. */
enum { KEPT_S = 60 };
/* It is low when a clip begins, and comes back slowly after it, as sound desks
 * do for an announcement (common practice). */
#define DOWN_S 1.0
#define UP_S 3.0
/* In from silence, out into it; and where it begins again, only no click. */
#define BEGIN_S 2.0
#define END_S 4.0
#define SEAM_S 0.01

struct under {
    struct under_plan plan;
    int rate;
    struct voice *voice;     /* NULL once all of it is kept */
    float *kept;             /* the whole track; NULL if it is long, or plays once */
    int64_t at, in_track;    /* frames of the evening, of the track */
    size_t span;             /* the first that still matters */
    bool ended;
    float part[SIDES * BLOCK];
};

static enum tc_status begin(struct under *u, struct tc_problem *why)
{
    struct source *source;
    enum tc_status status = source_open(&source, u->plan.path, why);
    u->in_track = 0;
    return status == TC_OK ? voice_open(&u->voice, source, u->rate) : status;
}

enum tc_status under_open(struct under **out, const struct under_plan *plan, int rate, struct tc_problem *why)
{
    struct under *u = *out = calloc(1, sizeof *u);
    if (!u) return TC_ERR_MEMORY;
    u->plan = *plan;
    u->rate = rate;
    if (!plan->once && plan->frames <= (int64_t)KEPT_S * rate)
        u->kept = calloc((size_t)plan->frames * SIDES, sizeof *u->kept);
    enum tc_status status = begin(u, why);
    if (status == TC_OK) return status;
    under_close(u);
    *out = NULL;
    return status;
}

bool under_ended(const struct under *u)
{
    return u->ended;
}

/* 1 while a clip sounds, 0 away from all. */
static double lowered(struct under *u, int64_t at)
{
    const struct under_span *s = u->plan.spans;
    double down = DOWN_S * u->rate, up = UP_S * u->rate, most = 0;
    while (u->span < u->plan.span_count && (double)(at - s[u->span].to) > up) u->span++;
    for (size_t i = u->span; i < u->plan.span_count && (double)(s[i].from - at) < down; i++) {
        double before = fade_rise(1 - (double)(s[i].from - at) / down);
        double behind = fade_rise(1 - (double)(at - s[i].to) / up);
        most = fmax(most, at < s[i].from ? before : at > s[i].to ? behind : 1);
    }
    return most;
}

static double level(struct under *u, int64_t at)
{
    double in = fade_rise((double)at / (BEGIN_S * u->rate)),
        out = fade_rise((double)(u->plan.end - at) / (END_S * u->rate));
    return in * out * pow(10, (u->plan.gain_db - u->plan.dip_db * lowered(u, at)) / 20);
}

/* The next frames of the track into `part`. */
static enum tc_status read_part(struct under *u, size_t frames, size_t *got)
{
    float *kept = u->kept ? u->kept + SIDES * u->in_track : NULL;
    if (!u->voice) {
        memcpy(u->part, kept, frames * SIDES * sizeof *kept);
        *got = frames;
        return TC_OK;
    }
    enum tc_status status = voice_read(u->voice, u->part, frames, got);
    if (kept && status == TC_OK) memcpy(kept, u->part, *got * SIDES * sizeof *kept);
    return status;
}

/* It begins again. */
static enum tc_status repeat(struct under *u)
{
    voice_close(u->voice);
    u->voice = NULL;
    u->in_track = 0;
    u->ended = u->plan.once;
    return u->ended || u->kept ? TC_OK : begin(u, NULL);
}

/* A piece within one round of the track; its level runs straight from end to end. */
static enum tc_status add_piece(struct under *u, float *mix, size_t frames)
{
    size_t got;
    enum tc_status status = read_part(u, frames, &got);
    if (status != TC_OK) return status;
    double from = level(u, u->at), to = level(u, u->at + (int64_t)frames);
    for (size_t f = 0; f < got; f++) {
        double gain = from + (to - from) * (double)f / (double)frames;
        float seam = fade_ends(u->in_track + (int64_t)f, u->plan.frames, SEAM_S * u->rate);
        for (size_t k = 0; k < SIDES; k++) mix[SIDES * f + k] += (float)gain * seam * u->part[SIDES * f + k];
    }
    u->at += (int64_t)frames;
    u->in_track += (int64_t)frames;
    return TC_OK;
}

enum tc_status under_add(struct under *u, float *mix, size_t frames)
{
    enum tc_status status = TC_OK;
    while (status == TC_OK && frames > 0 && !u->ended) {
        if (u->in_track >= u->plan.frames) {
            status = repeat(u);
            if (status != TC_OK || u->ended) break;
        }
        int64_t left = u->plan.frames - u->in_track;
        size_t part = frames < BLOCK ? frames : BLOCK;
        if ((int64_t)part > left) part = (size_t)left;
        status = add_piece(u, mix, part);
        mix += SIDES * part;
        frames -= part;
    }
    return status;
}

void under_close(struct under *u)
{
    if (!u) return;
    voice_close(u->voice);
    free(u->kept);
    free(u);
}
