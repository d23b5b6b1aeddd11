#include "writing/ramps_csv.h"

#include <math.h>

#include "words/memory.h"
#include "words/units.h"

/* ---- Ramps ---- */

/* How far the light of a straight line may pass from that of a frame between its
 * ends. FLASH_GUARDED leaves room for it at both ends of a change. */
#define SLACK_LIGHT 0.0025

/* A rise of this share of full level within one frame is an attack: it snaps,
 * so that no light comes before the frame that it belongs to. */
#define SNAP_SHARE 0.02

enum { LONGEST_S = 10, FRAMES_A_SECOND_MOST = 120, LONGEST = LONGEST_S * FRAMES_A_SECOND_MOST };

/* The ramp under way on one channel: a start and the cone of slopes that pass
 * close by every level since. */
struct open {
    uint32_t start;
    uint16_t start_level, last_level;
    bool moved;              /* some level differs from the first */
    double slack;            /* in levels */
    double least, most;      /* slopes, levels a frame */
};

struct ramper {
    size_t channels;
    uint16_t snap;
    uint32_t frame;          /* the next one */
    struct open *open;
    struct ramp *heap;       /* finished, not yet in turn; earliest on top */
    size_t count, room;
    bool flushed;
};

/* How many levels make this much light where the curve is steepest. */
static double slack_of(const struct tc_channel *c, uint16_t full)
{
    double range = fmax(0, c->max_level - c->min_level) / 100;
    return SLACK_LIGHT * full * range / curve_steepest(c->curve);
}

enum tc_status ramper_create(struct ramper **out, const struct tc_rig *rig, uint16_t full)
{
    struct ramper *r = memory_new(1, sizeof *r);
    size_t channels = rig->channel_count;
    *out = r;
    if (!r) return TC_ERR_MEMORY;
    r->channels = channels;
    r->snap = (uint16_t)(full * SNAP_SHARE + 0.5);
    r->room = 64 + 4 * channels;
    r->open = memory_new(channels + 1, sizeof *r->open);
    r->heap = memory_new(r->room, sizeof *r->heap);
    if (!r->open || !r->heap) {
        ramper_destroy(r);
        *out = NULL;
        return TC_ERR_MEMORY;
    }
    for (size_t c = 0; c < channels; c++) r->open[c].slack = slack_of(&rig->channels[c], full);
    return TC_OK;
}

static bool before(const struct ramp *a, const struct ramp *b)
{
    if (a->start != b->start) return a->start < b->start;
    if (a->channel != b->channel) return a->channel < b->channel;
    return a->end < b->end;
}

static enum tc_status heap_put(struct ramper *r, struct ramp ramp)
{
    if (r->count == r->room) {
        struct ramp *more = memory_resize(r->heap, 2 * r->room * sizeof *more);
        if (!more) return TC_ERR_MEMORY;
        r->heap = more;
        r->room *= 2;
    }
    size_t i = r->count++;
    for (; i > 0 && before(&ramp, &r->heap[(i - 1) / 2]); i = (i - 1) / 2)
        r->heap[i] = r->heap[(i - 1) / 2];
    r->heap[i] = ramp;
    return TC_OK;
}

static struct ramp heap_take(struct ramper *r)
{
    struct ramp top = r->heap[0], last = r->heap[--r->count];
    size_t i = 0;
    for (size_t child; (child = 2 * i + 1) < r->count; i = child) {
        if (child + 1 < r->count && before(&r->heap[child + 1], &r->heap[child])) child++;
        if (!before(&r->heap[child], &last)) break;
        r->heap[i] = r->heap[child];
    }
    r->heap[i] = last;
    return top;
}

static void restart(struct open *o, uint32_t frame, uint16_t level)
{
    *o = (struct open){ .start = frame, .start_level = level, .last_level = level, .slack = o->slack,
                        .least = -INFINITY, .most = INFINITY };
}

/* Ends the open ramp at `frame`, where it has its last level. */
static enum tc_status close_at(struct ramper *r, size_t channel, uint32_t frame)
{
    const struct open *o = &r->open[channel];
    if (!o->moved) return TC_OK; /* a channel holds by itself */
    return heap_put(r, (struct ramp){ o->start, frame, (uint16_t)channel, o->start_level, o->last_level });
}

static enum tc_status step_channel(struct ramper *r, size_t channel, uint16_t level)
{
    struct open *o = &r->open[channel];
    uint32_t f = r->frame;
    enum tc_status status = TC_OK;
    bool from_dark = o->last_level == 0 && level > 0;
    if (from_dark || level >= o->last_level + r->snap) {
        uint16_t was = o->last_level;
        if (f > 0) status = close_at(r, channel, f - 1);
        restart(o, f, level);
        if (status != TC_OK) return status;
        return heap_put(r, (struct ramp){ f, f, (uint16_t)channel, was, level });
    }
    if (f == 0) return TC_OK;

    double slope = ((double)level - o->start_level) / (double)(f - o->start);
    bool still = !o->moved && level == o->start_level;
    if (!still && (slope < o->least || slope > o->most || f - o->start > LONGEST)) {
        status = close_at(r, channel, f - 1);
        restart(o, f - 1, o->last_level);
        slope = (double)level - o->start_level;
    } else if (!o->moved && level != o->start_level) {
        restart(o, f - 1, o->last_level); /* standing still before it is no part of it */
        slope = (double)level - o->start_level;
    }
    double length = (double)(f - o->start);
    if (f > o->start) {
        o->least = fmax(o->least, slope - o->slack / length);
        o->most = fmin(o->most, slope + o->slack / length);
    }
    o->moved = o->moved || level != o->start_level;
    o->last_level = level;
    if (o->moved && level == 0) { /* dark is dark: no line leads past it */
        if (status == TC_OK) status = close_at(r, channel, f);
        restart(o, f, 0);
    }
    return status;
}

enum tc_status ramper_step(struct ramper *r, const uint16_t *levels)
{
    for (size_t c = 0; c < r->channels; c++) {
        if (!levels[c] && !r->open[c].last_level && !r->open[c].moved) continue; /* stays dark */
        enum tc_status status = step_channel(r, c, levels[c]);
        if (status != TC_OK) return status;
    }
    r->frame++;
    return TC_OK;
}

enum tc_status ramper_flush(struct ramper *r)
{
    r->flushed = true;
    for (size_t c = 0; c < r->channels && r->frame; c++) {
        enum tc_status status = close_at(r, c, r->frame - 1);
        r->open[c].moved = false;
        if (status != TC_OK) return status;
    }
    return TC_OK;
}

bool ramper_next(struct ramper *r, struct ramp *out)
{
    if (!r->count) return false;
    /* An open ramp may still come to stand before the earliest finished one;
     * a channel that stands still can only start one at the last frame. */
    uint32_t start = r->heap[0].start;
    if (!r->flushed) {
        if (start + 1 >= r->frame) return false;
        for (size_t c = 0; c < r->channels; c++)
            if (r->open[c].moved && r->open[c].start <= start) return false;
    }
    *out = heap_take(r);
    return true;
}

void ramper_destroy(struct ramper *r)
{
    if (!r) return;
    memory_free(r->open);
    memory_free(r->heap);
    memory_free(r);
}

/* ---- ramps.csv ---- */

void ramps_write_head(struct writer *w)
{
    writer_text(w, "channel,name,start_s,end_s,start_level,end_level\r\n");
}

void ramps_write_row(struct writer *w, const struct ramp *ramp, const struct tc_rig *rig,
                     const struct tc_settings *s)
{
    const struct tc_channel *c = &rig->channels[ramp->channel];
    int decimals = s->levels == TC_LEVELS_PERCENT ? 1 : 0;
    int64_t shift_ms = seconds_ms(s->shift_s);
    writer_fixed(w, c->number, 0);
    writer_text(w, ",");
    writer_name(w, c->name);
    writer_text(w, ",");
    writer_fixed(w, shift_ms + frame_ms(ramp->start, s->frame_rate), 3);
    writer_text(w, ",");
    writer_fixed(w, shift_ms + frame_ms(ramp->end, s->frame_rate), 3);
    writer_text(w, ",");
    writer_fixed(w, ramp->start_level, decimals);
    writer_text(w, ",");
    writer_fixed(w, ramp->end_level, decimals);
    writer_text(w, "\r\n");
}
