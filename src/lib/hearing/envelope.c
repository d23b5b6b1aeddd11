#include "hearing/envelope.h"

#include <math.h>
#include <string.h>

#include "words/memory.h"
#include "words/model.h"
#include "words/settings.h"
#include "words/units.h"

enum { ROOM_AT_FIRST = 1 << 16 }; /* 27 minutes at 40 light frames a second */

struct envelope {
    int64_t frame_rate;
    uint8_t *level;
    size_t count, room;
    double power;            /* of the light frame under way */
    int steps;
    struct tc_overview *overview;
    float column_peak, column_band[BAND_COUNT]; /* of the column under way */
    int64_t column_steps;
};

enum tc_status envelope_create(struct envelope **out, int64_t frame_rate)
{
    struct envelope *e = memory_new(1, sizeof *e);
    *out = e;
    if (!e) return TC_ERR_MEMORY;
    e->frame_rate = frame_rate;
    e->room = ROOM_AT_FIRST;
    e->level = memory_new(e->room, 1);
    e->overview = memory_new(1, sizeof *e->overview);
    if (!e->level || !e->overview) {
        envelope_destroy(e);
        *out = NULL;
        return TC_ERR_MEMORY;
    }
    e->overview->steps_each = 1;
    return TC_OK;
}

/* ---- Envelope ---- */

/* A light frame gets the mean power of the steps centred in it; there is at
 * least one, as steps come faster than light frames. */
static enum tc_status end_frame(struct envelope *e)
{
    if (e->count == e->room) {
        uint8_t *more = memory_resize(e->level, 2 * e->room);
        if (!more) return TC_ERR_MEMORY;
        e->level = more;
        e->room *= 2;
    }
    e->level[e->count++] = level_byte(e->steps ? e->power / e->steps : 0);
    e->power = 0;
    e->steps = 0;
    return TC_OK;
}

/* ---- Overview ---- */

/* Halves the drawing: neighbouring columns become one, their maximum. */
static void halve(struct tc_overview *o)
{
    for (size_t i = 0; i < o->count / 2; i++) {
        const uint8_t a = o->peak[2 * i], b = o->peak[2 * i + 1];
        o->peak[i] = a > b ? a : b;
        for (int k = 0; k < BAND_COUNT; k++) {
            const uint8_t c = o->band[2 * i][k], d = o->band[2 * i + 1][k];
            o->band[i][k] = c > d ? c : d;
        }
    }
    o->count /= 2;
    o->steps_each *= 2;
}

static void end_column(struct envelope *e)
{
    struct tc_overview *o = e->overview;
    float peak = 255.0f * e->column_peak + 0.5f;
    o->peak[o->count] = (uint8_t)(peak < 255 ? peak : 255);
    for (int b = 0; b < BAND_COUNT; b++) o->band[o->count][b] = level_byte((double)e->column_band[b]);
    o->count++;
    e->column_peak = 0;
    memset(e->column_band, 0, sizeof e->column_band);
    e->column_steps = 0;
    if (o->count == TC_OVERVIEW_COLUMNS) halve(o);
}

static void draw(struct envelope *e, const struct hearing *h)
{
    e->column_peak = fmaxf(e->column_peak, h->peak);
    for (int b = 0; b < h->bands; b++) e->column_band[b] = fmaxf(e->column_band[b], h->band[b]);
    if (++e->column_steps >= e->overview->steps_each) end_column(e);
}

/* ---- The stage ---- */

enum tc_status envelope_step(struct envelope *e, const struct hearing *h)
{
    int64_t frame = frame_at(h->step * STEP_MS, e->frame_rate);
    while ((int64_t)e->count < frame) {
        enum tc_status status = end_frame(e);
        if (status != TC_OK) return status;
    }
    e->power += (double)h->low;
    e->steps++;
    draw(e, h);
    return TC_OK;
}

enum tc_status envelope_finish(struct envelope *e, struct tc_analysis *out)
{
    if (e->steps) {
        enum tc_status status = end_frame(e);
        if (status != TC_OK) return status;
    }
    if (e->column_steps) end_column(e);
    out->envelope = e->level;
    out->envelope_count = e->count;
    out->frame_rate = e->frame_rate;
    out->overview = e->overview;
    e->level = NULL;
    e->overview = NULL;
    return TC_OK;
}

void envelope_destroy(struct envelope *e)
{
    if (!e) return;
    memory_free(e->level);
    memory_free(e->overview);
    memory_free(e);
}

/* ---- Without a recording ---- */

/* Ten thousand years: its light frames can still be counted. */
#define LENGTH_MOST_MS INT64_C(315576000000000)

/* The level of a rumble in a light frame: a hill of 20 dB around its peak. */
static int hill(const struct tc_event *e, int64_t frame, int64_t rate)
{
    double start = (double)e->start_ms, end = (double)e->end_ms, peak = (double)e->peak_ms;
    double t = (double)frame_ms(frame, rate);
    double share = t < peak ? (t - start) / (peak - start + 1) : (end - t) / (end - peak + 1);
    double db = (double)e->level_dbfs - 20 * (1 - (share < 0 ? 0 : share));
    int byte = (int)(2 * (db + 127.5) + 0.5);
    return byte > 255 ? 255 : byte < 0 ? 0 : byte;
}

static void raise_to(uint8_t *level, int64_t count, uint8_t to)
{
    for (int64_t i = 0; i < count; i++) level[i] = level[i] > to ? level[i] : to;
}

/* One slope of the hill, from frame to frame. It has few steps, each found by
 * halving: however long rumbles are and overlap, that is quickly done. */
static void paint_slope(uint8_t *envelope, const struct tc_event *e, int64_t rate, int64_t from, int64_t to)
{
    while (from < to) {
        int byte = hill(e, from, rate);
        int64_t same = from, other = to;
        while (other - same > 1) {
            int64_t middle = same + (other - same) / 2;
            if (hill(e, middle, rate) == byte) same = middle;
            else other = middle;
        }
        raise_to(envelope + from, other - from, (uint8_t)byte);
        from = other;
    }
}

enum tc_status tc_analysis_imagine(struct tc_analysis *a, int64_t rate)
{
    const struct setting *bounds = setting_find("frame-rate");
    int64_t length = a->length_ms;
    if ((double)rate < bounds->least || (double)rate > bounds->most) return TC_ERR_USAGE;
    for (size_t i = 0; i < a->event_count; i++) {
        const struct tc_event *e = &a->events[i];
        if (e->start_ms < 0 || e->end_ms < e->start_ms || e->end_ms > LENGTH_MOST_MS) return TC_ERR_USAGE;
        if (e->end_ms + TAIL_MS > length) length = e->end_ms + TAIL_MS;
    }
    if (length < 0 || length > LENGTH_MOST_MS + TAIL_MS) return TC_ERR_USAGE;
    size_t count = (size_t)(length * rate / 1000 + 1);
    uint8_t *envelope = memory_new(count, 1);
    if (!envelope) return TC_ERR_MEMORY;
    memory_free(a->envelope);
    a->envelope = envelope;
    a->envelope_count = count;
    a->length_ms = length;
    a->frame_rate = rate;
    for (size_t i = 0; i < a->event_count; i++) {
        const struct tc_event *e = &a->events[i];
        if (e->kind != TC_RUMBLE) continue;
        int64_t from = frame_at(e->start_ms, rate), to = frame_at(e->end_ms, rate), top = frame_at(e->peak_ms, rate);
        while (top < to && frame_ms(top, rate) < e->peak_ms) top++;
        if (top > to) top = to;
        paint_slope(a->envelope, e, rate, from, top);
        paint_slope(a->envelope, e, rate, top < from ? from : top, to);
    }
    return TC_OK;
}
