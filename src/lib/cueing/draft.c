#include "cueing/draft.h"

#include <math.h>
#include <stdlib.h>

#include "words/memory.h"
#include "words/pulse.h"
#include "words/units.h"

struct randomiser draft_random(const struct draft *d, enum draw what, int64_t start_ms)
{
    return random_keyed(d->key, (uint64_t)what, (uint64_t)start_ms);
}

uint32_t draft_frame(const struct draft *d, int64_t ms, double earlier_ms)
{
    int64_t early = (int64_t)floor(d->settings->lead_ms + earlier_ms + 0.5);
    return (uint32_t)frame_at(ms - early, d->out->frame_rate);
}

int64_t draft_frames(const struct draft *d, double ms)
{
    return (int64_t)floor(ms * (double)d->out->frame_rate / 1000 + 0.5);
}

/* ---- The timeline grows ---- */

void draft_pulse(struct draft *d, struct tc_pulse pulse)
{
    struct tc_timeline *t = d->out;
    if (t->pulse_count == d->pulse_room) {
        size_t room = d->pulse_room ? 2 * d->pulse_room : 256;
        struct tc_pulse *more = memory_resize(t->pulses, room * sizeof *more);
        if (!more) {
            d->out_of_memory = true;
            return;
        }
        t->pulses = more;
        d->pulse_room = room;
    }
    if (pulse.rise > pulse.frame) pulse.rise = (uint16_t)pulse.frame; /* nothing begins before the first frame */
    t->pulses[t->pulse_count++] = pulse;
}

void draft_stroke(struct draft *d, struct tc_stroke stroke)
{
    struct tc_timeline *t = d->out;
    if (t->stroke_count == d->stroke_room) {
        size_t room = d->stroke_room ? 2 * d->stroke_room : 64;
        struct tc_stroke *more = memory_resize(t->strokes, room * sizeof *more);
        if (!more) {
            d->out_of_memory = true;
            return;
        }
        t->strokes = more;
        d->stroke_room = room;
    }
    t->strokes[t->stroke_count++] = stroke;
}

/* By frame; those of one frame as they came, which is the order of their pulses. */
static int by_frame(const void *a, const void *b)
{
    const struct tc_stroke *x = a, *y = b;
    if (x->frame != y->frame) return x->frame < y->frame ? -1 : 1;
    return (x->first_pulse > y->first_pulse) - (x->first_pulse < y->first_pulse);
}

void draft_finish(struct draft *d)
{
    if (d->out->stroke_count) qsort(d->out->strokes, d->out->stroke_count, sizeof *d->out->strokes, by_frame);
}

uint16_t light_word(double light)
{
    return (uint16_t)(light <= 0 ? 0 : light >= 1 ? PULSE_LIGHT_FULL : floor(light * PULSE_LIGHT_FULL + 0.5));
}

uint16_t frames_word(int64_t frames)
{
    return (uint16_t)(frames < 0 ? 0 : frames > UINT16_MAX ? UINT16_MAX : frames);
}
