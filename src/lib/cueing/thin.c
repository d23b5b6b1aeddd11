#include "cueing/thin.h"

#include <stdlib.h>

#include "words/flash_rule.h"
#include "words/memory.h"

/* ---- Who comes first ---- */

struct wish {
    size_t stroke;
    uint32_t frame;
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

/* Frames from the peak of a stroke until its fall is a transition. */
enum { FALL_FRAMES = 2 };

/* The light frames that hold a stroke which has its room, a bit each. */
struct taken {
    uint64_t *bits;
    int64_t frames;
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

/* Takes a stroke if among any N + 1 that follow each other, from the fall of
 * the first to the rise of the last, a second and a frame pass; a rise begins
 * where the slowest lamp does. */
static bool take(struct taken *t, int64_t frame, int64_t limit, int64_t window)
{
    int64_t before[FLASH_LIMIT_MOST], after[FLASH_LIMIT_MOST], row[2 * FLASH_LIMIT_MOST + 1];
    int n = (int)limit, count = 0;
    int64_t reach = window + FALL_FRAMES;
    int past = neighbours(t, frame, -1, reach, n, before), next = neighbours(t, frame, +1, reach, n, after);
    while (past > 0) row[count++] = before[--past];
    row[count++] = frame;
    for (int i = 0; i < next; i++) row[count++] = after[i];
    for (int i = 0; i + n < count; i++)
        if (row[i + n] - row[i] - FALL_FRAMES < window) return false;
    t->bits[frame / 64] |= (uint64_t)1 << (frame % 64);
    return true;
}

/* ---- Leaving out ---- */

/* Where a restrike is left out, the stroke before it in its flash glows until
 * then, as a continuing current does: dark in between would look cut. */
static void fill(struct tc_timeline *t, const bool *out, size_t left_out, double glow)
{
    const struct tc_stroke *gone = &t->strokes[left_out];
    size_t i = left_out;
    do {
        if (i-- == 0) return;
    } while (out[i] || t->strokes[i].event != gone->event);
    const struct tc_stroke *k = &t->strokes[i];
    for (uint32_t n = 0; n < k->pulse_count; n++) {
        struct tc_pulse *p = &t->pulses[k->first_pulse + n];
        int64_t hold = (int64_t)gone->frame - p->frame - p->fall;
        if (!p->fall || hold <= p->hold) continue;
        uint16_t light = (uint16_t)(glow * p->peak);
        if (light > p->glow) p->glow = light;
        p->hold = (uint16_t)(hold < UINT16_MAX ? hold : UINT16_MAX);
    }
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
    for (size_t i = 0; i < t->stroke_count; i++)
        for (uint32_t k = 0; k < t->strokes[i].pulse_count; k++) {
            const struct tc_pulse *p = &t->pulses[t->strokes[i].first_pulse + k];
            int64_t early = (int64_t)t->strokes[i].frame - ((int64_t)p->frame - p->rise);
            if (early > lead && !(p->fall && p->rise)) lead = early; /* the swell of a glimmer leads nothing */
        }
    return lead;
}

enum tc_status thin_strokes(struct tc_timeline *t, const struct tc_settings *s)
{
    if (!s->flash_limit || !t->stroke_count) return TC_OK;
    enum tc_status status = TC_ERR_MEMORY;
    struct wish *list = memory_new(t->stroke_count, sizeof *list);
    bool *out = memory_new(t->stroke_count, sizeof *out);
    struct taken taken = { .frames = t->frames };
    taken.bits = memory_new(t->frames / 64 + 1, sizeof *taken.bits);
    if (!list || !out || !taken.bits) goto done;

    for (size_t i = 0; i < t->stroke_count; i++) {
        const struct tc_stroke *k = &t->strokes[i];
        list[i] = (struct wish){ .stroke = i, .frame = k->frame,
                                      .rank = k->order == 0 ? 0 : k->heard ? 1 : 2,
                                      .light = k->light };
    }
    int64_t window = s->frame_rate + FLASH_FRAMES_MORE + lead_of(t);
    qsort(list, t->stroke_count, sizeof *list, by_rank);
    for (size_t i = 0; i < t->stroke_count; i++) {
        const struct wish *c = &list[i];
        if (c->light < (float)(FLASH_PERCENT / 100.0) || is_taken(&taken, c->frame)
            || take(&taken, c->frame, s->flash_limit, window))
            continue;
        if (c->rank > 0) out[c->stroke] = true;
        else t->strokes[c->stroke].yields = true;
    }
    for (size_t i = 0; i < t->stroke_count; i++)
        if (out[i] && s->glow_light > 0) fill(t, out, i, s->glow_light);
    status = leave_out(t, out);
done:
    memory_free(list);
    memory_free(out);
    memory_free(taken.bits);
    return status;
}
