#include "light/play.h"

#include <string.h>

#include "rig/channel_set.h"
#include "words/memory.h"
#include "words/pulse.h"

/* In the frame before a stroke, older ones are dimmed so far that the stroke
 * is a rise by this share of its own light; a faint one needs little. */
#define RISE_LEAST 0.6
/* One that outshines them finds at most this much of them. */
#define DIP 0.3

/* A pulse that has been read and is not over. */
struct lit {
    struct tc_pulse is;
    uint32_t begin, end;     /* frames; dark again at the end */
    uint32_t opens, strikes; /* its stroke: its first light, its frame; 0 = of no stroke */
    struct pulse_fall fall;
};

struct play {
    const struct tc_timeline *t;
    const struct tc_rig *rig;
    uint32_t frame;          /* the next one */
    uint32_t ahead;          /* pulses are read this many frames before they begin */
    size_t next;             /* the next pulse to be read */
    size_t stroke;           /* near that of the next pulse */
    struct lit *lit;
    size_t count, room;
    struct channel_sets sets;
    float *scratch;          /* by channel */
};

/* ---- Pulses ---- */

static struct lit light_up(const struct tc_pulse *p)
{
    return (struct lit){ .is = *p, .fall = pulse_fall_of(p), .begin = pulse_begin(p), .end = pulse_end(p) };
}

static float light_at(const struct lit *l, uint32_t frame)
{
    return frame < l->begin || frame >= l->end ? 0 : pulse_light(&l->is, &l->fall, frame);
}

/* ---- Reading ---- */

static bool holds(const struct tc_stroke *k, size_t pulse)
{
    return pulse >= k->first_pulse && pulse - k->first_pulse < k->pulse_count;
}

/* The stroke of a pulse, or NULL. Strokes stand in the order of their frames
 * and pulses nearly so: it is found beside that of the pulse before. */
static const struct tc_stroke *stroke_of(struct play *p, size_t pulse)
{
    enum { ASIDE = 64 };
    const struct tc_stroke *strokes = p->t->strokes;
    size_t n = p->t->stroke_count;
    for (size_t i = 0; i < ASIDE; i++) {
        if (p->stroke + i < n && holds(&strokes[p->stroke + i], pulse)) return &strokes[p->stroke += i];
        if (i <= p->stroke && p->stroke - i < n && holds(&strokes[p->stroke - i], pulse))
            return &strokes[p->stroke -= i];
    }
    return NULL;
}

/* Pulses of a stroke stand together, so some come after others that begin
 * later. Reading goes as many frames ahead as the worst of them is late, and
 * one more, to see the attacks of the next frame. */
static void find_ahead(struct play *p)
{
    uint32_t latest = 0;
    for (size_t i = 0; i < p->t->pulse_count; i++) {
        uint32_t begin = pulse_begin(&p->t->pulses[i]);
        if (begin > latest) latest = begin;
        if (latest - begin > p->ahead) p->ahead = latest - begin;
    }
    /* Where lamps lead a stroke, all of it is known when the first of them lights. */
    for (size_t i = 0; i < p->t->stroke_count; i++) {
        uint32_t lead = p->t->strokes[i].frame - stroke_opens(p->t, &p->t->strokes[i]);
        if (lead > p->ahead) p->ahead = lead;
    }
    p->ahead++;
}

static void drop_ended(struct play *p, uint32_t frame)
{
    size_t kept = 0;
    for (size_t i = 0; i < p->count; i++)
        if (p->lit[i].end > frame) p->lit[kept++] = p->lit[i];
    p->count = kept;
}

/* Reads the pulses that begin soon after `frame`. False if there is no room. */
static bool read_on(struct play *p, uint32_t frame)
{
    const struct tc_timeline *t = p->t;
    while (p->next < t->pulse_count && pulse_begin(&t->pulses[p->next]) <= frame + p->ahead) {
        if (p->count == p->room) return false;
        const struct tc_stroke *k = stroke_of(p, p->next);
        struct lit *l = &p->lit[p->count++];
        *l = light_up(&t->pulses[p->next++]);
        if (!k) continue;
        l->strikes = k->frame;
        l->opens = stroke_opens(t, k);
    }
    return true;
}

/* Plays through without light once, to make as much room as will be needed. */
static enum tc_status make_room(struct play *p)
{
    for (uint32_t frame = 0; p->next < p->t->pulse_count;) {
        if (!read_on(p, frame)) {
            size_t room = p->room ? 2 * p->room : 32;
            struct lit *more = memory_resize(p->lit, room * sizeof *more);
            if (!more) return TC_ERR_MEMORY;
            p->lit = more;
            p->room = room;
            continue;
        }
        if (p->next == p->t->pulse_count) break;
        uint32_t begin = pulse_begin(&p->t->pulses[p->next]);
        frame = begin - p->ahead; /* it was not within reach: begin > frame + ahead */
        drop_ended(p, frame);
    }
    p->next = p->count = p->stroke = 0;
    return TC_OK;
}

enum tc_status play_create(struct play **out, const struct tc_timeline *t, const struct tc_rig *rig)
{
    struct play *p = memory_new(1, sizeof *p);
    *out = p;
    if (!p) return TC_ERR_MEMORY;
    p->t = t;
    p->rig = rig;
    p->scratch = memory_new(rig->channel_count + 1, sizeof *p->scratch);
    if (!p->scratch || channel_sets_create(&p->sets, rig) != TC_OK) goto fail;
    find_ahead(p);
    if (make_room(p) != TC_OK) goto fail;
    return TC_OK;
fail:
    play_destroy(p);
    *out = NULL;
    return TC_ERR_MEMORY;
}

/* ---- Playing ---- */

/* Pulses by what they have to do with the stroke that comes next. */
enum part { PART_NEW = 1, PART_FADING = 2, PART_STEADY = 4, PART_STROKES = 7, PART_BACKGROUND = 8 };

/* True for the light of a stroke to come of which some shines in the next frame
 * already: that of its own frame, or of a lamp that leads. */
static bool is_coming(const struct lit *l, uint32_t frame)
{
    if (pulse_swells(&l->is)) return false;
    if (!l->strikes) return l->is.fall && l->is.frame == frame + 1;
    return l->strikes > frame && l->opens <= frame + 1 && l->is.frame <= l->strikes;
}

static enum part part_of(const struct lit *l, uint32_t frame)
{
    if (!l->is.fall && l->is.hold) return PART_BACKGROUND;
    if (is_coming(l, frame)) return PART_NEW;
    if (!l->is.fall) return PART_STEADY; /* a ramp */
    return l->is.frame < frame || l->is.rise ? PART_FADING : PART_STEADY;  /* else it strikes now */
}

/* Adds the light of some parts at a frame, the brightest wins. */
static void shine(const struct play *p, unsigned parts, uint32_t at, float scale, float *light)
{
    for (size_t k = 0; k < p->count; k++) {
        const struct lit *l = &p->lit[k];
        if (!(part_of(l, p->frame) & parts)) continue;
        float shines = scale * light_at(l, at);
        if (!(shines > 0)) continue;
        for (size_t i = 0, c = 0; channel_sets_next(&p->sets, l->is.channel, &i, &c);)
            if (shines > light[c]) light[c] = shines;
    }
}

static double sum_of(struct play *p, unsigned parts, uint32_t at)
{
    size_t n = p->rig->channel_count;
    double sum = 0;
    memset(p->scratch, 0, n * sizeof *p->scratch);
    shine(p, parts, at, 1, p->scratch);
    for (size_t c = 0; c < n; c++) sum += (double)p->scratch[c];
    return sum;
}

/* The frame of the stroke that comes next, if it dims older light now; else 0. */
static uint32_t strikes_next(const struct play *p)
{
    uint32_t strikes = 0;
    for (size_t k = 0; k < p->count; k++) {
        const struct lit *l = &p->lit[k];
        uint32_t at = l->strikes ? l->strikes : l->is.frame;
        if (part_of(l, p->frame) == PART_NEW && (!strikes || at < strikes)) strikes = at;
    }
    return strikes;
}

/* The share of older strokes' light that is left in this frame, with what it has
 * at frame `at`. */
static float dip_to(struct play *p, uint32_t strikes, uint32_t at)
{
    double fading = sum_of(p, PART_FADING, at);
    if (!(fading > 0)) return 1;
    double stroke = sum_of(p, PART_NEW, strikes);
    double room = sum_of(p, PART_STROKES, strikes) - RISE_LEAST * stroke - sum_of(p, PART_STEADY, p->frame);
    double share = room / fading;
    if (stroke >= fading && share > DIP) share = DIP;
    return (float)(share < 0 ? 0 : share > 1 ? 1 : share);
}

/* Older light, dimmed if something strikes next. Where a lamp leads its stroke,
 * older light is dimmed from the frame before that lamp on, to what it will have
 * in the last frame before the stroke: one rise, not two, and no lamp falls while
 * another one rises. */
static void shine_fading(struct play *p, float *light)
{
    uint32_t strikes = strikes_next(p), at = strikes ? strikes - 1 : p->frame;
    float dip = strikes ? dip_to(p, strikes, at) : 1;
    shine(p, PART_FADING, at, dip, light);
}

/* Two lights together, never above 1: what one leaves dark the other lights. */
static void shine_background(struct play *p, float *light)
{
    size_t n = p->rig->channel_count;
    memset(p->scratch, 0, n * sizeof *p->scratch);
    shine(p, PART_BACKGROUND, p->frame, 1, p->scratch);
    for (size_t c = 0; c < n; c++) light[c] += p->scratch[c] * (1 - light[c]);
}

bool play_step(struct play *p, float *light)
{
    if (p->frame >= p->t->frames) return false;
    memset(light, 0, p->rig->channel_count * sizeof *light);
    if (p->count) drop_ended(p, p->frame);
    read_on(p, p->frame);
    if (p->count && p->frame + 1 < p->t->frames) {
        shine(p, PART_NEW | PART_STEADY, p->frame, 1, light);
        shine_fading(p, light);
        shine_background(p, light);
    }
    p->frame++;
    return true;
}

void play_destroy(struct play *p)
{
    if (!p) return;
    memory_free(p->lit);
    channel_sets_clear(&p->sets);
    memory_free(p->scratch);
    memory_free(p);
}
