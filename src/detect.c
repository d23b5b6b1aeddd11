#include "detect.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "units.h"

enum {
    PAST = 16,          /* 80 ms that a rise is measured against */
    AROUND = 20,        /* 100 ms to each side for the local mean */
    ALONE = 20,         /* one attack within 100 ms */
    RING = 128,         /* steps remembered, more than PAST + 2 AROUND */
    TRACK_EACH = 10,    /* steps to one value of the rumble track: 50 ms */
};

#define FLOOR_DB     30.0f  /* under the loud level of the surroundings */
#define FORGET_DB    0.01f  /* the loud level falls by this each step: 2 dB a second */

struct detector {
    int64_t step;
    float loud;                         /* dB, per band taken together */
    float band_loud[BAND_COUNT];
    float db[RING][BAND_COUNT];
    float rise[RING], total[RING], high[RING];
    struct tc_candidate *found;
    size_t count, room;
    uint8_t *track;
    size_t track_count, track_room;
    float track_max;
    int64_t last_at;
};

enum tc_status detector_create(struct detector **out)
{
    struct detector *d = calloc(1, sizeof *d);
    *out = d;
    if (!d) return TC_ERR_MEMORY;
    for (int b = 0; b < BAND_COUNT; b++) d->band_loud[b] = -120;
    d->room = 1024;
    d->track_room = 1 << 16;
    d->found = calloc(d->room, sizeof *d->found);
    d->track = calloc(d->track_room, 1);
    if (!d->found || !d->track) {
        detector_destroy(d);
        *out = NULL;
        return TC_ERR_MEMORY;
    }
    return TC_OK;
}

static float *ring(float *x, int64_t step)
{
    return &x[step & (RING - 1)];
}

static float rise_now(struct detector *d, const struct hearing *h)
{
    float *now = d->db[h->step & (RING - 1)];
    float sum = 0;
    for (int b = 0; b < h->bands; b++) {
        float db = 10.0f * log10f(h->band[b] + 1e-12f);
        d->band_loud[b] = fmaxf(d->band_loud[b] - FORGET_DB, db);
        now[b] = fmaxf(db, d->band_loud[b] - FLOOR_DB);
        float past = 0;
        for (int i = 1; i <= PAST; i++) past += d->db[(h->step - i) & (RING - 1)][b];
        sum += fmaxf(0, now[b] - fmaxf(past / PAST, d->band_loud[b] - FLOOR_DB));
    }
    return sum / (float)h->bands;
}

static enum tc_status keep(struct detector *d, int64_t at, float score)
{
    if (d->count == d->room) {
        struct tc_candidate *more = realloc(d->found, 2 * d->room * sizeof *more);
        if (!more) return TC_ERR_MEMORY;
        d->found = more;
        d->room *= 2;
    }
    int64_t start = at;
    while (start > at - PAST && start > 0
           && *ring(d->rise, start - 1) > 0.4f * score) start--;
    float loud = 0, high = 0;
    for (int64_t i = at; i < at + 10; i++) {
        loud = fmaxf(loud, *ring(d->total, i));
        high = fmaxf(high, *ring(d->high, i));
    }
    float found_at = 50.0f - (score - 3.0f) * 12.0f;
    d->found[d->count++] = (struct tc_candidate){
        .at_ms = start * STEP_MS,
        .found_at = found_at < 0 ? 0 : found_at,
        .loudness = sqrtf(loud) * score,
        .sharpness = fminf(1, sqrtf(high / (loud + 1e-12f)) * 2),
        .level_dbfs = (float)power_db(loud),
    };
    return TC_OK;
}

/* Judges the step that has its full surroundings by now. */
static enum tc_status judge(struct detector *d, int64_t at)
{
    float here = *ring(d->rise, at), mean = 0;
    for (int64_t i = at - AROUND; i <= at + AROUND; i++) {
        float v = i < 0 ? 0 : *ring(d->rise, i);
        if (v > here || (fabsf(v - here) <= 0 && i < at)) return TC_OK;
        mean += v;
    }
    float score = here - mean / (2 * AROUND + 1);
    if (score < 1) return TC_OK;
    return keep(d, at, score);
}

enum tc_status detector_step(struct detector *d, const struct hearing *h)
{
    d->step = h->step + 1;
    if (h->step == 0)
        for (int i = 0; i < RING; i++)
            for (int b = 0; b < BAND_COUNT; b++) d->db[i][b] = -150;
    *ring(d->rise, h->step) = rise_now(d, h);
    *ring(d->total, h->step) = h->total;
    float high = 0;
    for (int b = 9; b < h->bands; b++) high += h->band[b];
    *ring(d->high, h->step) = high;

    d->track_max = fmaxf(d->track_max, h->low);
    if (h->step % TRACK_EACH == TRACK_EACH - 1) {
        if (d->track_count == d->track_room) {
            uint8_t *more = realloc(d->track, 2 * d->track_room);
            if (!more) return TC_ERR_MEMORY;
            d->track = more;
            d->track_room *= 2;
        }
        d->track[d->track_count++] = level_byte(d->track_max);
        d->track_max = 0;
    }
    return h->step >= AROUND ? judge(d, h->step - AROUND) : TC_OK;
}

static enum tc_status find_rumbles(struct detector *d, int64_t length_ms, struct tc_analysis *out)
{
    size_t histogram[256] = { 0 }, seen = 0;
    for (size_t i = 0; i < d->track_count; i++) histogram[d->track[i]]++;
    int loudest = 255, quiet = 0;
    while (loudest > 0 && !histogram[loudest]) loudest--;
    for (quiet = 0; quiet < 255 && seen + histogram[quiet] < d->track_count / 10 + 1; quiet++)
        seen += histogram[quiet];
    int gate = loudest - 60 > quiet + 12 ? loudest - 60 : quiet + 12;
    if (gate > loudest - 20) gate = loudest - 20;

    size_t room = 64;
    out->events = calloc(room, sizeof *out->events);
    if (!out->events) return TC_ERR_MEMORY;
    for (size_t i = 0; i < d->track_count;) {
        if (d->track[i] < gate || d->track[i] < 30) {
            i++;
            continue;
        }
        size_t start = i, last = i, peak = i;
        for (; i < d->track_count && i - last <= 10; i++) {
            if (d->track[i] >= gate) last = i;
            if (d->track[i] > d->track[peak]) peak = i;
        }
        if (last - start < 9) continue;
        if (out->event_count == room) {
            struct tc_event *more = realloc(out->events, 2 * room * sizeof *more);
            if (!more) return TC_ERR_MEMORY;
            out->events = more;
            room *= 2;
        }
        int64_t end = (int64_t)(last + 1) * 50;
        out->events[out->event_count++] = (struct tc_event){
            .kind = TC_RUMBLE,
            .start_ms = (int64_t)start * 50,
            .end_ms = end < length_ms ? end : length_ms,
            .peak_ms = (int64_t)peak * 50,
            .strength = (float)pow(10, (d->track[peak] - loudest) / 40.0),
            .level_dbfs = (float)d->track[peak] / 2 - 127.5f,
        };
    }
    return TC_OK;
}

enum tc_status detector_finish(struct detector *d, int64_t length_ms, struct tc_analysis *out)
{
    struct hearing silence = { .bands = BAND_COUNT };
    for (int i = 0; i < AROUND; i++) {
        silence.step = d->step;
        enum tc_status status = detector_step(d, &silence);
        if (status != TC_OK) return status;
    }
    out->candidates = d->found;
    out->candidate_count = d->count;
    d->found = NULL;
    return find_rumbles(d, length_ms, out);
}

void detector_destroy(struct detector *d)
{
    if (!d) return;
    free(d->found);
    free(d->track);
    free(d);
}
