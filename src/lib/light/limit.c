/* How the promise is kept: every rise is asked whether it has room (room.h
 * tells what that means), on the summed light, on branches, floods and every
 * group, and on all of them together.
 *
 * Holding back: a rise that has no room is cut to just below 10 %. Only
 * channels that rise in this frame are touched, all by the same share of their
 * own rise, and none goes below its level of the frame before. At a share of
 * nothing no channel rises at all, and falls have their place: so there is
 * always a way. */
#include "light/limit.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "light/room.h"
#include "words/flash_rule.h"
#include "words/memory.h"
#include "words/pulse.h"

/* A held-back rise ends this far above the valley: short of 10 % by more than
 * the ramps file and real lamps are off. Where a slow rise has used that up
 * already there is still a little more, so that a crack shows. */
#define HELD_RISE 0.085
#define HELD_RISE_MOST 0.0945
#define LEAST_RISE 0.01
/* A channel that asks for this much more in one frame strikes anew. */
#define ATTACK 0.10

enum { ALL, BRANCHES, FLOODS, FIRST_GROUP };

/* The rule to the letter, and as strict as those count who see a little more
 * change than the levels hold. The one does not follow from the other: what
 * counts for a group a frame earlier may go with or against another. */
enum { TO_THE_LETTER, GUARDED, ROOMS };
static const double transitions[ROOMS] = { FLASH_TRANSITION, FLASH_GUARDED };
#define NO_GROUP SIZE_MAX

struct limiter {
    const struct dimmer *d;
    int64_t limit;               /* flashes in a second, 0 = off */
    bool loop;
    int64_t window;              /* W */
    int64_t frames;              /* in a lap */
    int64_t frame;               /* the next one */
    const struct tc_timeline *plan; /* or NULL */
    size_t stroke;               /* the first in it that is not over */
    int64_t yields;              /* flashes that rises of this frame leave room for */
    bool strikes;                /* a stroke of the plan has its frame now */
    size_t softened;
    size_t track_count;
    double *all_on;              /* weight of each track's channels together */
    struct room *rooms[ROOMS];
    /* this frame, by track */
    double *sum;                 /* light, all-on = 1 */
    double *low;                 /* the same when all falls are done and no rise yet */
    double *share;
    bool *refused;
    double *floor;               /* what a refused rise would be measured from */
    /* by channel */
    size_t *kind_track, *group_track;
    uint16_t *asked, *given, *now;
    double *asked_light, *given_light, *now_light;
    double *gain;                /* below 1: held back, follows its wish at this share */
};

/* ---- Making ---- */

/* Adds the light of a channel to its tracks. */
static void add(const struct limiter *l, double *sum, size_t c, double light)
{
    double part = l->d->weight[c] * light;
    sum[ALL] += part;
    sum[l->kind_track[c]] += part;
    if (l->group_track[c] != NO_GROUP) sum[l->group_track[c]] += part;
}

enum tc_status limiter_create(struct limiter **out, const struct dimmer *d,
                              const struct tc_settings *s, uint32_t frames)
{
    *out = NULL;
    struct limiter *l = memory_new(1, sizeof *l);
    if (!l) return TC_ERR_MEMORY;
    const struct tc_rig *rig = d->rig;
    size_t n = d->channels + 1; /* one spare: no channels is no special case */
    l->d = d;
    l->limit = s->flash_limit > FLASH_LIMIT_MOST ? FLASH_LIMIT_MOST : s->flash_limit;
    l->loop = s->loop;
    l->window = s->frame_rate + FLASH_FRAMES_MORE;
    l->frames = frames ? frames : 1;
    l->track_count = FIRST_GROUP + rig->group_count;
    l->all_on = memory_new(l->track_count, sizeof *l->all_on);
    l->sum = memory_new(l->track_count, sizeof *l->sum);
    l->low = memory_new(l->track_count, sizeof *l->low);
    l->share = memory_new(l->track_count, sizeof *l->share);
    l->refused = memory_new(l->track_count, sizeof *l->refused);
    l->floor = memory_new(l->track_count, sizeof *l->floor);
    l->kind_track = memory_new(n, sizeof *l->kind_track);
    l->group_track = memory_new(n, sizeof *l->group_track);
    l->asked = memory_new(n, sizeof *l->asked);
    l->given = memory_new(n, sizeof *l->given);
    l->now = memory_new(n, sizeof *l->now);
    l->asked_light = memory_new(n, sizeof *l->asked_light);
    l->given_light = memory_new(n, sizeof *l->given_light);
    l->now_light = memory_new(n, sizeof *l->now_light);
    l->gain = memory_new(n, sizeof *l->gain);
    if (!l->all_on || !l->floor || !l->sum || !l->low || !l->share || !l->refused || !l->kind_track
        || !l->group_track || !l->asked || !l->given || !l->now || !l->asked_light
        || !l->given_light || !l->now_light || !l->gain)
        goto fail;

    for (size_t c = 0; c < d->channels; c++) {
        const struct tc_channel *channel = &rig->channels[c];
        bool grouped = channel->group >= 0 && (size_t)channel->group < rig->group_count;
        l->kind_track[c] = channel->kind == TC_FLOOD ? FLOODS : BRANCHES;
        l->group_track[c] = grouped ? FIRST_GROUP + (size_t)channel->group : NO_GROUP;
        add(l, l->all_on, c, 1);
        l->gain[c] = 1;
    }
    for (size_t i = 0; i < ROOMS; i++) {
        struct room_for what = { .tracks = l->track_count, .transition = transitions[i], .limit = l->limit,
                                 .window = l->window, .frames = l->frames, .loop = l->loop };
        if (room_create(&l->rooms[i], &what) != TC_OK) goto fail;
    }
    *out = l;
    return TC_OK;
fail:
    limiter_destroy(l);
    return TC_ERR_MEMORY;
}

void limiter_destroy(struct limiter *l)
{
    if (!l) return;
    for (size_t i = 0; i < ROOMS; i++) room_destroy(l->rooms[i]);
    memory_free(l->all_on);
    memory_free(l->floor);
    memory_free(l->sum);
    memory_free(l->low);
    memory_free(l->share);
    memory_free(l->refused);
    memory_free(l->kind_track);
    memory_free(l->group_track);
    memory_free(l->asked);
    memory_free(l->given);
    memory_free(l->now);
    memory_free(l->asked_light);
    memory_free(l->given_light);
    memory_free(l->now_light);
    memory_free(l->gain);
    memory_free(l);
}

void limiter_follow(struct limiter *l, const struct tc_timeline *t)
{
    l->plan = t;
}

size_t limiter_softened(const struct limiter *l)
{
    return l->softened;
}

/* ---- One frame ---- */

static void put_level(struct limiter *l, size_t c, uint16_t level)
{
    l->now[c] = level;
    l->now_light[c] = dimmer_light(l->d, c, level);
}

/* How many stronger flashes come within the second after a flash of this
 * frame; at least one, for it is for them that a stroke yields. */
static int64_t stronger_ahead(const struct limiter *l, size_t stroke)
{
    const struct tc_timeline *t = l->plan;
    int64_t n = 0;
    for (size_t i = stroke + 1; i < t->stroke_count && n < l->limit; i++) {
        if (t->strokes[i].frame >= l->frame + FLASH_FALL_FRAMES + l->window) break;
        n += !t->strokes[i].yields && !stroke_is_faint(&t->strokes[i]);
    }
    return n ? n : 1;
}

/* What the plan says of this frame: whether a stroke strikes in it, and the room
 * that its rises leave free. One that yields leaves that of the stronger ones
 * to come. A lamp that leads its stroke leaves room for the stroke, or waits for
 * it. A stroke rises from its first pulse on, which is earlier for slow lamps,
 * but after the stroke before. */
static void look_up(struct limiter *l)
{
    const struct tc_timeline *t = l->plan;
    l->yields = 0;
    l->strikes = false;
    if (!t) return;
    while (l->stroke < t->stroke_count && t->strokes[l->stroke].frame < l->frame) l->stroke++;
    if (l->stroke == t->stroke_count) return;
    const struct tc_stroke *k = &t->strokes[l->stroke];
    l->strikes = k->frame == l->frame;
    bool alone = !l->stroke || t->strokes[l->stroke - 1].frame < l->frame;
    if (!alone || l->frame < stroke_opens(t, k)) return;
    if (k->yields) l->yields = stronger_ahead(l, l->stroke);
    else if (!l->strikes) l->yields = 1;
}

/* What each channel wants in this frame. One that was held back fades at its
 * share, so that a refused strike doesn't break out late when room comes; it
 * rises by what its wish rises, and is free again at the next attack, or in the
 * frame of the stroke that it leads. */
static void wish(struct limiter *l, const uint16_t *levels)
{
    for (size_t c = 0; c < l->d->channels; c++) {
        double asked = dimmer_light(l->d, c, levels[c]);
        double more = asked - l->asked_light[c];
        l->asked[c] = levels[c];
        l->asked_light[c] = asked;
        put_level(l, c, levels[c]);
        if (l->gain[c] >= 1) continue;
        if (!(asked > 0) || more >= ATTACK || (l->strikes && more >= 0)) {
            l->gain[c] = 1;
            continue;
        }
        if (more > 0) l->gain[c] = (l->given_light[c] + more) / asked;
        if (l->gain[c] < 1) put_level(l, c, dimmer_level_within(l->d, c, levels[c], asked * l->gain[c]));
        else l->gain[c] = 1;
    }
}

static void sum_up(struct limiter *l)
{
    memset(l->sum, 0, l->track_count * sizeof *l->sum);
    memset(l->low, 0, l->track_count * sizeof *l->low);
    for (size_t c = 0; c < l->d->channels; c++) {
        add(l, l->sum, c, l->now_light[c]);
        add(l, l->low, c, fmin(l->now_light[c], l->given_light[c]));
    }
    for (size_t s = 0; s < l->track_count; s++) {
        if (!(l->all_on[s] > 0)) continue;
        l->sum[s] /= l->all_on[s];
        l->low[s] /= l->all_on[s];
    }
}

/* By what share the rises within each refused track must be cut. */
static void set_shares(struct limiter *l)
{
    /* share holds the sum of rises first */
    memset(l->share, 0, l->track_count * sizeof *l->share);
    for (size_t c = 0; c < l->d->channels; c++)
        add(l, l->share, c, fmax(0, l->now_light[c] - l->given_light[c]));
    for (size_t s = 0; s < l->track_count; s++) {
        double rise = l->share[s], above = 0;
        double room = fmin(fmax(HELD_RISE, l->low[s] - l->floor[s] + LEAST_RISE), HELD_RISE_MOST);
        if (l->refused[s]) above = (l->sum[s] - l->floor[s] - room) * l->all_on[s];
        l->share[s] = above <= 0 ? 1 : above < rise ? 1 - above / rise : 0;
    }
}

static void hold_back(struct limiter *l)
{
    set_shares(l);
    for (size_t c = 0; c < l->d->channels; c++) {
        double rise = l->now_light[c] - l->given_light[c];
        if (rise <= 0) continue;
        double share = fmin(l->share[ALL], l->share[l->kind_track[c]]);
        if (l->group_track[c] != NO_GROUP) share = fmin(share, l->share[l->group_track[c]]);
        if (share >= 1) continue;
        uint16_t level = dimmer_level_within(l->d, c, l->now[c], l->given_light[c] + share * rise);
        put_level(l, c, level > l->given[c] ? level : l->given[c]);
        l->gain[c] = l->now_light[c] / l->asked_light[c];
    }
}

static bool must_be_dark(const struct limiter *l, size_t track)
{
    bool must = false;
    for (size_t i = 0; i < ROOMS; i++) must |= l->sum[track] >= transitions[i] && room_must_be_dark(l->rooms[i], track);
    return must;
}

/* In a loop: darkens every track that shines when its last moment to fall has
 * come. */
static bool darken(struct limiter *l)
{
    bool any = false;
    for (size_t s = 0; s < l->track_count; s++) {
        if (!must_be_dark(l, s)) continue;
        for (size_t c = 0; c < l->d->channels; c++) {
            if (!l->now[c] || (s != ALL && s != l->kind_track[c] && s != l->group_track[c])) continue;
            put_level(l, c, 0);
            l->gain[c] = 0;
            any = true;
        }
    }
    return any;
}

static bool refuses(struct limiter *l)
{
    bool any = false;
    for (size_t i = 0; i < ROOMS; i++)
        any |= room_refuses(l->rooms[i], l->low, l->sum, l->yields, l->refused, l->floor);
    return any;
}

static void commit(struct limiter *l)
{
    for (size_t i = 0; i < ROOMS; i++) room_take(l->rooms[i], l->low, l->sum);
    memcpy(l->given, l->now, l->d->channels * sizeof *l->given);
    memcpy(l->given_light, l->now_light, l->d->channels * sizeof *l->given_light);
}

bool limiter_holds(const struct limiter *l)
{
    bool holds = true;
    for (size_t i = 0; l->limit && i < ROOMS; i++) holds = holds && room_holds(l->rooms[i]);
    return holds;
}

void limiter_step(struct limiter *l, uint16_t *levels)
{
    size_t size = l->d->channels * sizeof *levels;
    if (!l->limit) return;
    if (!limiter_holds(l)) {
        memset(levels, 0, size);
        return;
    }
    for (size_t i = 0; i < ROOMS; i++) room_begin(l->rooms[i]);
    bool seam = l->loop && l->frame >= l->frames - l->window;
    if (!seam && !memcmp(levels, l->asked, size)) { /* nothing moves */
        memcpy(levels, l->given, size);
        l->frame++;
        return;
    }
    look_up(l);
    wish(l, levels);
    sum_up(l);
    bool held = seam && darken(l);
    if (held) sum_up(l);
    memset(l->refused, 0, l->track_count * sizeof *l->refused);
    /* Every round refuses another track or measures from deeper, which can't go
     * on for ever: no rise is left when all is held. */
    while (refuses(l)) {
        hold_back(l);
        sum_up(l);
        held = true;
    }
    commit(l);
    l->softened += held;
    memcpy(levels, l->now, size);
    l->frame++;
}
