/* How the promise is kept.
 *
 * Every series (all, branches, floods, each group) is followed from peak to
 * valley. A transition is stamped with its light frame; W is the second in
 * light frames, and one more. The invariant, after every frame and for every
 * series:
 *
 *     transitions in the last W frames + (1 if it is up) <= 2 N
 *
 * so the fall of a series that is up always has its place, and only rises have
 * to be asked about. Time only takes transitions out of the window.
 *
 * Between two frames nobody knows what the light does. A controller may change
 * all channels at once, or let those that fall slide down while those that rise
 * jump up at the end, as the ramps file has it. Where one channel hands over to
 * another the light then dips on its way, by anything up to all of the falls:
 *
 *     before ____            ____
 *                \___ now        \    ___ now
 *                                 \__|     low
 *       at once            falls first
 *
 * So a series may be up and down at the same time, with a range of peaks and
 * a range of valleys, and a turn may be possible or certain. All that is
 * possible is counted: turns of the same direction that follow each other are
 * one run, since each way the light may take has but one of them. A run counts
 * in every window that holds any of its turns until one of them is certain;
 * what follows that one is no turn on any way.
 *
 * "Any group" turns whenever one of branches, floods and groups turns against
 * the direction of the last. Where groups turn both ways in one frame nobody
 * can say which came first; then the order that turns most often is taken, and
 * the heading counts as open: whatever comes next is a turn. Unless the heading
 * is down, some group is up, so here too a place for a fall is kept.
 *
 * Holding back: a rise that has no place is cut to just below 10 %. Only
 * channels that rise in this frame are touched, all by the same share of their
 * own rise, and none goes below its level of the frame before. At a share of
 * nothing no channel rises at all, and falls have their place: so there is
 * always a way. Lowering may bring falls in other series, for which the same
 * is true.
 *
 * A loop: the transitions of the first W frames come again after the last
 * frame. The last frame is black, as is the time before the first, so every
 * series begins each lap in the same state and the first lap tells all. */
#include "light/limit.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "words/flash_rule.h"
#include "words/memory.h"

#define TRANSITION FLASH_TRANSITION
/* A held-back rise ends this far above the valley: short of 10 % by more than
 * the ramps file and real lamps are off. Where a slow rise has used that up
 * already there is still a little more, so that a crack shows. */
#define HELD_RISE 0.085
#define HELD_RISE_MOST 0.0945
#define LEAST_RISE 0.01
/* A channel that asks for this much more in one frame strikes anew. */
#define ATTACK 0.10

/* The most flashes a second that any setting allows. */
enum { LIMIT_MOST = 3, RUNS_KEPT = 4 * LIMIT_MOST };

enum { ALL, BRANCHES, FLOODS, FIRST_GROUP };
#define NO_GROUP SIZE_MAX

enum heading { DOWN, UP, OPEN };

/* The runs of turns of one series, as frames. */
struct history {
    enum heading heading;        /* of the latest run */
    bool loose;                  /* no turn of the latest run is certain yet */
    int64_t latest[RUNS_KEPT];   /* a ring: a run's latest turn that counts */
    int64_t first[RUNS_KEPT];    /* beginnings of the runs of the first W frames */
    int first_count;
    int64_t count;               /* runs in all */
};

/* Where a valley or a peak may be; nowhere unless `any`. */
struct range {
    bool any;
    double low, high;
};

struct track {
    double all_on;               /* weight of its channels together */
    double value;                /* light of the frame before, all-on = 1 */
    struct range valley, peak;   /* if it is down, if it is up */
    struct history past;
};

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
    size_t softened;
    size_t track_count;
    struct track *tracks;
    struct history united;       /* "any group" */
    /* this frame, by track */
    double *sum;                 /* light, all-on = 1 */
    double *low;                 /* the same when all falls are done and no rise yet */
    double *share;
    bool *refused;
    /* by channel */
    size_t *kind_track, *group_track;
    uint16_t *asked, *given, *now;
    double *asked_light, *given_light, *now_light;
    double *gain;                /* below 1: held back, follows its wish at this share */
};

/* ---- Making ---- */

enum tc_status limiter_create(struct limiter **out, const struct dimmer *d,
                              const struct tc_settings *s, uint32_t frames)
{
    *out = NULL;
    struct limiter *l = memory_new(1, sizeof *l);
    if (!l) return TC_ERR_MEMORY;
    const struct tc_rig *rig = d->rig;
    size_t n = d->channels + 1; /* one spare: no channels is no special case */
    l->d = d;
    l->limit = s->flash_limit > LIMIT_MOST ? LIMIT_MOST : s->flash_limit;
    l->loop = s->loop;
    l->window = s->frame_rate + 1;
    l->frames = frames ? frames : 1;
    l->track_count = FIRST_GROUP + rig->group_count;
    l->tracks = memory_new(l->track_count, sizeof *l->tracks);
    l->sum = memory_new(l->track_count, sizeof *l->sum);
    l->low = memory_new(l->track_count, sizeof *l->low);
    l->share = memory_new(l->track_count, sizeof *l->share);
    l->refused = memory_new(l->track_count, sizeof *l->refused);
    l->kind_track = memory_new(n, sizeof *l->kind_track);
    l->group_track = memory_new(n, sizeof *l->group_track);
    l->asked = memory_new(n, sizeof *l->asked);
    l->given = memory_new(n, sizeof *l->given);
    l->now = memory_new(n, sizeof *l->now);
    l->asked_light = memory_new(n, sizeof *l->asked_light);
    l->given_light = memory_new(n, sizeof *l->given_light);
    l->now_light = memory_new(n, sizeof *l->now_light);
    l->gain = memory_new(n, sizeof *l->gain);
    if (!l->tracks || !l->sum || !l->low || !l->share || !l->refused || !l->kind_track
        || !l->group_track || !l->asked || !l->given || !l->now || !l->asked_light
        || !l->given_light || !l->now_light || !l->gain)
        goto fail;

    for (size_t c = 0; c < d->channels; c++) {
        const struct tc_channel *channel = &rig->channels[c];
        bool grouped = channel->group >= 0 && (size_t)channel->group < rig->group_count;
        l->kind_track[c] = channel->kind == TC_FLOOD ? FLOODS : BRANCHES;
        l->group_track[c] = grouped ? FIRST_GROUP + (size_t)channel->group : NO_GROUP;
        l->tracks[ALL].all_on += d->weight[c];
        l->tracks[l->kind_track[c]].all_on += d->weight[c];
        if (grouped) l->tracks[l->group_track[c]].all_on += d->weight[c];
        l->gain[c] = 1;
    }
    for (size_t t = 0; t < l->track_count; t++) l->tracks[t].valley.any = true; /* at 0 */
    *out = l;
    return TC_OK;
fail:
    limiter_destroy(l);
    return TC_ERR_MEMORY;
}

void limiter_destroy(struct limiter *l)
{
    if (!l) return;
    memory_free(l->tracks);
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

/* ---- Room in the second ---- */

static int64_t run_back(const struct history *h, int64_t n) /* 0 = the latest */
{
    return h->latest[(h->count - 1 - n) % RUNS_KEPT];
}

/* Runs within the last W frames. */
static int64_t recent(const struct limiter *l, const struct history *h)
{
    int64_t n = 0, held = h->count < RUNS_KEPT ? h->count : RUNS_KEPT;
    while (n < held && l->frame - run_back(h, n) < l->window) n++;
    return n;
}

/* Runs of the next lap that begin less than W frames after `frame`. */
static int64_t ahead(const struct limiter *l, const struct history *h, int64_t frame)
{
    int64_t n = 0;
    while (n < h->first_count && h->first[n] + l->frames - frame < l->window) n++;
    return n;
}

/* A lap so short that the first W frames are not known before they matter. */
static bool short_lap(const struct limiter *l)
{
    return l->frames < 2 * l->window;
}

/* In a loop whose first W frames are full: the last frame at which a series
 * may still fall, so that this fall and they are not too many. */
static int64_t last_fall(const struct limiter *l, const struct history *h)
{
    if (!l->loop || short_lap(l) || h->first_count < 2 * l->limit) return INT64_MAX;
    return l->frames - l->window + h->first[2 * l->limit - 1];
}

/* True if `more` runs fit, the last of which may come at any later time. */
static bool fits(const struct limiter *l, const struct history *h, int64_t more)
{
    int64_t most = 2 * l->limit, n = recent(l, h);
    if (n + more > most) return false;
    if (!l->loop) return true;
    if (short_lap(l)) {
        int64_t laps = (l->window + l->frames - 1) / l->frames; /* within W frames, at most */
        return (h->count + more) * laps <= most;
    }
    if (l->frame < l->frames - l->window) return true;
    if (l->frame >= last_fall(l, h)) return false;
    /* The windows that begin with each recent run, or with this frame. */
    if (more + ahead(l, h, l->frame) > most) return false;
    for (int64_t i = 0; i < n; i++)
        if (i + 1 + more + ahead(l, h, run_back(h, i)) > most) return false;
    return true;
}

/* ---- Runs of turns ---- */

/* What a frame adds to a history. */
struct turns {
    bool extends;        /* the latest run, which is still loose */
    int64_t runs;        /* new ones */
    enum heading after;
    bool loose;          /* the latest run, after */
};

static void note(struct limiter *l, struct history *h, struct turns t)
{
    if (t.extends && h->count) h->latest[(h->count - 1) % RUNS_KEPT] = l->frame;
    for (int64_t i = 0; i < t.runs; i++) {
        h->latest[h->count % RUNS_KEPT] = l->frame;
        h->count++;
        if (l->frame < l->window && h->first_count < RUNS_KEPT) h->first[h->first_count++] = l->frame;
    }
    h->heading = t.after;
    h->loose = t.loose;
}

/* True if a rise with these turns has room, and the fall after it too. */
static bool has_room(const struct limiter *l, const struct history *h, struct turns t)
{
    return fits(l, h, t.extends + t.runs + 1 + 2 * l->yields);
}

/* ---- Peak to valley ---- */

/* What a frame does to a series. */
struct move {
    bool fall, rise;             /* possible turns, in this order */
    bool fall_sure, rise_sure;   /* they come whatever way the light takes */
    double floor;                /* the deepest valley that a rise is measured from */
    struct range valley, peak;   /* after the frame */
};

static void widen(struct range *r, double low, double high)
{
    if (!r->any || low < r->low) r->low = low;
    if (!r->any || high > r->high) r->high = high;
    r->any = true;
}

/* On its way from the last value to this one the light dips to somewhere
 * between `low` and `brim`. */
static struct move move_of(const struct limiter *l, size_t s)
{
    const struct track *t = &l->tracks[s];
    double value = l->sum[s], brim = fmin(value, t->value), low = fmin(l->low[s], brim);
    struct move m = { .valley = t->valley, .peak = t->peak };

    m.fall = t->peak.any && t->peak.high - low >= TRANSITION;
    bool stays_up = t->peak.any && t->peak.low - brim < TRANSITION;
    m.peak.any = stays_up;
    if (stays_up) {
        m.peak.high = fmax(fmin(m.peak.high, brim + TRANSITION), value);
        m.peak.low = fmax(m.peak.low, value);
    }
    if (m.valley.any) {
        m.valley.low = fmin(m.valley.low, low);
        m.valley.high = fmin(m.valley.high, brim);
    }
    if (m.fall) widen(&m.valley, low, fmax(low, fmin(brim, t->peak.high - TRANSITION)));

    m.floor = m.valley.low;
    m.rise = m.valley.any && value - m.valley.low >= TRANSITION;
    if (m.rise) {
        widen(&m.peak, value, value);
        if (value - m.valley.high < TRANSITION) m.valley.low = value - TRANSITION + 1e-12;
        else m.valley.any = false;
    }
    m.rise_sure = m.rise && !stays_up && !m.valley.any;
    m.fall_sure = m.fall && !stays_up && !t->valley.any;
    return m;
}

static struct turns turns_of(const struct history *h, struct move m)
{
    struct turns t = { .after = h->heading, .loose = h->loose };
    if (m.fall) {
        t.extends = t.after == DOWN && t.loose;
        t.runs += t.after != DOWN;
        t.loose = (t.after != DOWN || t.loose) && !m.fall_sure;
        t.after = DOWN;
    }
    if (m.rise) {
        t.extends |= t.after == UP && t.loose;
        t.runs += t.after != UP;
        t.loose = (t.after != UP || t.loose) && !m.rise_sure;
        t.after = UP;
    }
    return t;
}

/* The same for "any group"; *ups: how many of them rise. */
static struct turns united_turns(const struct limiter *l, int64_t *ups)
{
    const struct history *h = &l->united;
    int64_t downs = *ups = 0;
    bool sure = false;
    for (size_t s = BRANCHES; s < l->track_count; s++) {
        struct move m = move_of(l, s);
        *ups += m.rise;
        downs += m.fall;
        sure |= m.rise_sure || m.fall_sure;
    }
    struct turns t = { .after = h->heading, .loose = h->loose };
    if (!*ups && !downs) return t;
    int64_t along = h->heading == UP ? *ups : downs, against = h->heading == UP ? downs : *ups;
    t.extends = h->heading != OPEN && h->loose && along;
    if (*ups && downs) {
        int64_t less = along < against ? along : against;
        if (h->heading == OPEN) t.runs = along == against ? 2 * less : 2 * less + 1;
        else t.runs = against > along ? 2 * along + 1 : 2 * against;
        t.after = OPEN;
        t.loose = false;
        return t;
    }
    t.after = *ups ? UP : DOWN;
    t.runs = t.after != h->heading;
    t.loose = (t.runs || h->loose) && !sure;
    return t;
}

/* ---- One frame ---- */

static void put_level(struct limiter *l, size_t c, uint16_t level)
{
    l->now[c] = level;
    l->now_light[c] = dimmer_light(l->d, c, level);
}

/* Light of a stroke that can't make a transition by itself. */
#define FAINT 0.10
/* Frames from the peak of a stroke until its fall is a transition. */
enum { FALL_FRAMES = 2 };

/* How many stronger flashes come within the second after a flash of this
 * frame; at least one, for it is for them that a stroke yields. */
static int64_t stronger_ahead(const struct limiter *l, size_t stroke)
{
    const struct tc_timeline *t = l->plan;
    int64_t n = 0;
    for (size_t i = stroke + 1; i < t->stroke_count && n < l->limit; i++) {
        if (t->strokes[i].frame >= l->frame + FALL_FRAMES + l->window) break;
        n += !t->strokes[i].yields && t->strokes[i].light >= (float)FAINT;
    }
    return n ? n : 1;
}

/* If a stroke that yields rises in this frame: the room that it leaves. It
 * rises from its first pulse on, which is earlier for slow lamps, but after
 * the stroke before. */
static int64_t find_yielding(struct limiter *l)
{
    const struct tc_timeline *t = l->plan;
    if (!t) return 0;
    while (l->stroke < t->stroke_count && t->strokes[l->stroke].frame < l->frame) l->stroke++;
    if (l->stroke == t->stroke_count || !t->strokes[l->stroke].yields) return 0;
    const struct tc_stroke *k = &t->strokes[l->stroke];
    int64_t begin = k->frame;
    for (uint32_t i = 0; i < k->pulse_count; i++) {
        const struct tc_pulse *p = &t->pulses[k->first_pulse + i];
        if ((int64_t)p->frame - p->rise < begin) begin = (int64_t)p->frame - p->rise;
    }
    bool alone = !l->stroke || t->strokes[l->stroke - 1].frame < l->frame;
    return alone && l->frame >= begin ? stronger_ahead(l, l->stroke) : 0;
}

/* What each channel wants in this frame. One that was held back fades at its
 * share, so that a refused strike doesn't break out late when room comes; it
 * rises by what its wish rises, and is free again at the next attack. */
static void wish(struct limiter *l, const uint16_t *levels)
{
    for (size_t c = 0; c < l->d->channels; c++) {
        double asked = dimmer_light(l->d, c, levels[c]);
        double more = asked - l->asked_light[c];
        l->asked[c] = levels[c];
        l->asked_light[c] = asked;
        put_level(l, c, levels[c]);
        if (l->gain[c] >= 1) continue;
        if (!(asked > 0) || more >= ATTACK) {
            l->gain[c] = 1;
            continue;
        }
        if (more > 0) l->gain[c] = (l->given_light[c] + more) / asked;
        if (l->gain[c] < 1) put_level(l, c, dimmer_level_within(l->d, c, levels[c], asked * l->gain[c]));
        else l->gain[c] = 1;
    }
}

static void add(struct limiter *l, double *sum, size_t c, double light)
{
    double part = l->d->weight[c] * light;
    sum[ALL] += part;
    sum[l->kind_track[c]] += part;
    if (l->group_track[c] != NO_GROUP) sum[l->group_track[c]] += part;
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
        if (!(l->tracks[s].all_on > 0)) continue;
        l->sum[s] /= l->tracks[s].all_on;
        l->low[s] /= l->tracks[s].all_on;
    }
}

/* Adds to the refused tracks those that rise without room. True if any came. */
static bool refuse(struct limiter *l)
{
    bool more = false;
    for (size_t s = 0; s < l->track_count; s++) {
        struct move m = move_of(l, s);
        const struct history *h = &l->tracks[s].past;
        if (l->refused[s] || !m.rise || has_room(l, h, turns_of(h, m))) continue;
        l->refused[s] = more = true;
    }
    if (more) return true;
    int64_t ups;
    struct turns turns = united_turns(l, &ups);
    if (!ups || has_room(l, &l->united, turns)) return false;
    for (size_t s = BRANCHES; s < l->track_count; s++) l->refused[s] = true;
    return true;
}

/* By what share the rises within each refused track must be cut. */
static void set_shares(struct limiter *l)
{
    /* share holds the sum of rises first */
    memset(l->share, 0, l->track_count * sizeof *l->share);
    for (size_t c = 0; c < l->d->channels; c++)
        add(l, l->share, c, fmax(0, l->now_light[c] - l->given_light[c]));
    for (size_t s = 0; s < l->track_count; s++) {
        struct move m = move_of(l, s);
        double rise = l->share[s], above = 0;
        double room = fmin(fmax(HELD_RISE, l->low[s] - m.floor + LEAST_RISE), HELD_RISE_MOST);
        if (l->refused[s] && m.rise) above = (l->sum[s] - m.floor - room) * l->tracks[s].all_on;
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

/* In a loop: true if a track must fall in this frame at the latest, because
 * a later fall would be one too many for it or for "any group". */
static bool must_fall(const struct limiter *l, size_t s)
{
    const struct track *t = &l->tracks[s];
    const struct history *u = &l->united;
    if (!t->peak.any) return false;
    if (l->frame >= last_fall(l, &t->past)) return true;
    return s != ALL && (u->heading != DOWN || u->loose) && l->frame >= last_fall(l, u);
}

/* In a loop: darkens every track whose last moment to fall has come. */
static bool darken(struct limiter *l)
{
    bool any = false;
    for (size_t c = 0; c < l->d->channels; c++) {
        bool dark = must_fall(l, ALL) || must_fall(l, l->kind_track[c])
                 || (l->group_track[c] != NO_GROUP && must_fall(l, l->group_track[c]));
        if (!dark || !l->now[c]) continue;
        put_level(l, c, 0);
        l->gain[c] = 0;
        any = true;
    }
    return any;
}

static void commit(struct limiter *l)
{
    int64_t ups;
    note(l, &l->united, united_turns(l, &ups));
    assert(recent(l, &l->united) + (l->united.heading != DOWN) <= 2 * l->limit);
    for (size_t s = 0; s < l->track_count; s++) {
        struct track *t = &l->tracks[s];
        struct move m = move_of(l, s);
        note(l, &t->past, turns_of(&t->past, m));
        t->valley = m.valley;
        t->peak = m.peak;
        t->value = l->sum[s];
        assert(recent(l, &t->past) + (t->past.heading == UP) <= 2 * l->limit);
    }
    memcpy(l->given, l->now, l->d->channels * sizeof *l->given);
    memcpy(l->given_light, l->now_light, l->d->channels * sizeof *l->given_light);
}

void limiter_step(struct limiter *l, uint16_t *levels)
{
    size_t size = l->d->channels * sizeof *levels;
    if (!l->limit) return;
    bool seam = l->loop && l->frame >= l->frames - l->window;
    if (!seam && !memcmp(levels, l->asked, size)) { /* nothing moves */
        memcpy(levels, l->given, size);
        l->frame++;
        return;
    }
    wish(l, levels);
    l->yields = find_yielding(l);
    bool held = seam && darken(l);
    sum_up(l);
    memset(l->refused, 0, l->track_count * sizeof *l->refused);
    /* Every round refuses at least one more track, and a refused track has no
     * rise left; the bound only says so aloud. */
    for (size_t round = 0; round <= l->track_count && refuse(l); round++) {
        hold_back(l);
        sum_up(l);
        held = true;
    }
    commit(l);
    l->softened += held;
    memcpy(levels, l->now, size);
    l->frame++;
}
