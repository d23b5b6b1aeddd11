#include "cueing/thin.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cueing/tail.h"
#include "words/flash_rule.h"
#include "words/memory.h"
#include "words/pulse.h"
#include "words/watch.h"

/* ---- Who comes first ---- */

struct wish {
    size_t stroke;
    uint32_t frame;
    int64_t tail;       /* frames until its fall is over for whoever begins to look */
    bool faint;         /* no flash by itself */
    int rank;           /* 0 first strokes, 1 restrikes heard, 2 drawn */
    float light;
};

static int by_rank(const void *a, const void *b)
{
    const struct wish *x = a, *y = b;
    if (x->rank != y->rank) return x->rank - y->rank;
    if (x->light > y->light) return -1;
    if (x->light < y->light) return 1;
    return (x->stroke > y->stroke) - (x->stroke < y->stroke);
}

/* ---- Room ---- */

/* The light frames that hold a stroke which has its room, a bit each. */
struct taken {
    uint64_t *bits;
    uint16_t *tail;     /* by frame: until when its fall may still be counted */
    int64_t frames;
    int64_t longest;    /* of the tails */
    int64_t limit, window;
};

static bool is_taken(const struct taken *t, int64_t frame)
{
    return frame >= 0 && frame < t->frames && t->bits[frame / 64] >> (frame % 64) & 1;
}

/* The frames of up to `most` strokes taken on one side of a frame, the nearest
 * first, no further than `reach`. */
static int neighbours(const struct taken *t, int64_t frame, int step, int64_t reach, int most, int64_t *found)
{
    int n = 0;
    for (int64_t i = 1; i <= reach && n < most; i++)
        if (is_taken(t, frame + step * i)) found[n++] = frame + step * i;
    return n;
}

/* True if with a stroke at this frame, among any N + 1 that follow each other,
 * from the end of the first's fall (or where the next rises out of it) to the
 * rise of the last, a second and a frame pass; a rise begins where the slowest lamp does. */
static bool fits(const struct taken *t, int64_t frame, int64_t tail)
{
    int64_t before[FLASH_LIMIT_MOST], after[FLASH_LIMIT_MOST], row[2 * FLASH_LIMIT_MOST + 1];
    int n = (int)t->limit, count = 0;
    int64_t reach = t->window + (tail > t->longest ? tail : t->longest);
    int past = neighbours(t, frame, -1, reach, n, before), next = neighbours(t, frame, +1, reach, n, after);
    while (past > 0) row[count++] = before[--past];
    row[count++] = frame;
    for (int i = 0; i < next; i++) row[count++] = after[i];
    for (int i = 0; i + n < count; i++) {
        int64_t end = row[i] + (row[i] == frame ? tail : t->tail[row[i]]);
        if (end > row[i + 1]) end = row[i + 1]; /* the next one rises out of it */
        if (row[i + n] - end < t->window) return false;
    }
    return true;
}

/* Takes a stroke if it fits. */
static bool take(struct taken *t, int64_t frame, int64_t tail)
{
    if (!fits(t, frame, tail)) return false;
    t->bits[frame / 64] |= (uint64_t)1 << (frame % 64);
    t->tail[frame] = (uint16_t)tail;
    if (tail > t->longest) t->longest = tail;
    return true;
}

/* True amid the fall of a stroke: the older light is dimmed for a new one, so
 * that even a faint one may be a flash. */
static bool amid_fall(const struct taken *t, int64_t frame)
{
    for (int64_t i = 1; i <= t->longest; i++)
        if (is_taken(t, frame - i) && t->tail[frame - i] >= i) return true;
    return false;
}

/* Frames until the fall of a stroke is over for whoever begins to look. */
static int64_t tail_within(struct tail *tail, const struct tc_stroke *k)
{
    int64_t frames = tail_of(tail, k);
    return frames < FLASH_FALL_FRAMES ? FLASH_FALL_FRAMES : frames > UINT16_MAX ? UINT16_MAX : frames;
}

/* ---- Leaving out ---- */

/* A glow that is never seen to end as a flash does. */
#define GLOW_FAINT 0.08

/* Makes a stroke glow until a frame. */
static void glow_until(struct tc_timeline *t, const struct tc_stroke *k, uint32_t frame, double glow, double most)
{
    for (uint32_t n = 0; n < k->pulse_count; n++) {
        struct tc_pulse *p = &t->pulses[k->first_pulse + n];
        int64_t hold = (int64_t)frame - p->frame - p->fall;
        if (!p->fall || hold <= p->hold) continue;
        uint16_t light = (uint16_t)fmin(glow * p->peak, most * PULSE_LIGHT_FULL);
        if (light > p->glow) p->glow = light;
        if (p->glow > most * PULSE_LIGHT_FULL) p->glow = light;
        p->hold = (uint16_t)(hold < UINT16_MAX ? hold : UINT16_MAX);
    }
}

/* Where a restrike is left out, the stroke before it in its flash glows until
 * then, as a continuing current does: dark in between would look cut. Where the
 * end of that glow would be a change too many, it glows faintly. */
static enum tc_status fill(struct tc_timeline *t, struct taken *taken, struct tail *tail, const bool *out,
                           size_t left_out, double glow)
{
    const struct tc_stroke *gone = &t->strokes[left_out];
    size_t i = left_out;
    do {
        if (i-- == 0) return TC_OK;
    } while (out[i] || t->strokes[i].event != gone->event);
    const struct tc_stroke *k = &t->strokes[i];
    size_t size = k->pulse_count * sizeof *t->pulses;
    struct tc_pulse *before = memory_new(k->pulse_count + 1, sizeof *before);
    if (!before) return TC_ERR_MEMORY;
    memcpy(before, &t->pulses[k->first_pulse], size);
    glow_until(t, k, gone->frame, glow, 1);
    int64_t longer = tail_within(tail, k);
    if (is_taken(taken, k->frame) && !fits(taken, k->frame, longer)) {
        memcpy(&t->pulses[k->first_pulse], before, size);
        glow_until(t, k, gone->frame, glow, GLOW_FAINT);
        longer = tail_within(tail, k);
    }
    if (is_taken(taken, k->frame)) {
        taken->tail[k->frame] = (uint16_t)longer;
        if (longer > taken->longest) taken->longest = longer;
    }
    memory_free(before);
    return TC_OK;
}

/* Takes the strokes out that are marked, with their pulses. */
static enum tc_status leave_out(struct tc_timeline *t, const bool *out)
{
    bool *gone = memory_new(t->pulse_count + 1, sizeof *gone);
    uint32_t *place = memory_new(t->pulse_count + 1, sizeof *place);
    if (!gone || !place) {
        memory_free(gone);
        memory_free(place);
        return TC_ERR_MEMORY;
    }
    for (size_t i = 0; i < t->stroke_count; i++)
        for (uint32_t k = 0; out[i] && k < t->strokes[i].pulse_count; k++)
            gone[t->strokes[i].first_pulse + k] = true;
    size_t pulses = 0, strokes = 0;
    for (size_t i = 0; i < t->pulse_count; i++) {
        place[i] = (uint32_t)pulses;
        if (!gone[i]) t->pulses[pulses++] = t->pulses[i];
    }
    place[t->pulse_count] = (uint32_t)pulses;
    for (size_t i = 0; i < t->stroke_count; i++) {
        if (out[i]) continue;
        t->strokes[strokes] = t->strokes[i];
        t->strokes[strokes++].first_pulse = place[t->strokes[i].first_pulse];
    }
    t->dropped += t->stroke_count - strokes;
    t->stroke_count = strokes;
    t->pulse_count = pulses;
    memory_free(gone);
    memory_free(place);
    return TC_OK;
}

/* How many frames slow lamps lead their strokes, at most. */
static int64_t lead_of(const struct tc_timeline *t)
{
    int64_t lead = 0;
    for (size_t i = 0; i < t->stroke_count; i++) {
        int64_t early = (int64_t)t->strokes[i].frame - stroke_opens(t, &t->strokes[i]);
        if (early > lead) lead = early;
    }
    return lead;
}

/* How often each of the three walks over all strokes asks whether to stop. */
enum { ASKED = 100 };

/* True if at this one of the strokes the caller is to be asked, and wants to stop. */
static bool stopped(const struct tc_watch *watch, const struct tc_timeline *t, size_t i)
{
    return i % (t->stroke_count / ASKED + 1) == 0 && watch_tell(watch, 1) != TC_OK;
}

enum tc_status thin_strokes(struct tc_timeline *t, const struct tc_rig *rig, const struct tc_settings *s,
                            const struct tc_watch *watch)
{
    if (!s->flash_limit || !t->stroke_count) return TC_OK;
    enum tc_status status = TC_ERR_MEMORY;
    struct wish *list = memory_new(t->stroke_count, sizeof *list);
    bool *out = memory_new(t->stroke_count, sizeof *out);
    struct taken taken = { .frames = t->frames, .longest = FLASH_FALL_FRAMES, .limit = s->flash_limit };
    struct tail *tail = NULL;
    taken.bits = memory_new(t->frames / 64 + 1, sizeof *taken.bits);
    taken.tail = memory_new(t->frames + 1, sizeof *taken.tail);
    if (!list || !out || !taken.bits || !taken.tail || tail_create(&tail, t, rig) != TC_OK) goto done;

    status = TC_ERR_STOPPED;
    for (size_t i = 0; i < t->stroke_count; i++) {
        if (stopped(watch, t, i)) goto done;
        const struct tc_stroke *k = &t->strokes[i];
        list[i] = (struct wish){ .stroke = i, .frame = k->frame,
                                      .rank = k->order == 0 ? 0 : k->heard ? 1 : 2,
                                      .light = k->light };
        list[i].faint = stroke_is_faint(k);
        list[i].tail = tail_within(tail, k);
    }
    taken.window = s->frame_rate + FLASH_FRAMES_MORE + lead_of(t);
    qsort(list, t->stroke_count, sizeof *list, by_rank);
    for (size_t i = 0; i < t->stroke_count; i++) {
        if (stopped(watch, t, i)) goto done;
        const struct wish *c = &list[i];
        if ((c->faint && !amid_fall(&taken, c->frame)) || is_taken(&taken, c->frame)
            || take(&taken, c->frame, c->tail))
            continue;
        if (c->rank > 0) out[c->stroke] = true;
        else t->strokes[c->stroke].yields = true;
    }
    status = TC_OK;
    for (size_t i = 0; i < t->stroke_count && status == TC_OK; i++) {
        if (stopped(watch, t, i)) status = TC_ERR_STOPPED;
        else if (out[i] && s->glow_light > 0) status = fill(t, &taken, tail, out, i, s->glow_light);
    }
    if (status == TC_OK) status = leave_out(t, out);
done:
    memory_free(list);
    memory_free(out);
    memory_free(taken.bits);
    memory_free(taken.tail);
    tail_destroy(tail);
    return status;
}
