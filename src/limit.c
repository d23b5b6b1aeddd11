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
 * Between two frames nobody knows what the light does: a controller may change
 * all channels at once, or let those that fall slide down while those that rise
 * jump up at the end, as the ramps file has it. Then the light dips on the way
 * where one channel hands over to another:
 *
 *     at once    ____            falls first  ____
 *                    \___ now                     \    ___ now
 *                                                  \__|     low
 *
 * Every series is followed both ways, and must keep the limit in both.
 *
 * "Any group" makes a transition whenever one of branches, floods and groups
 * turns against the direction of the last. Where groups turn both ways in one
 * frame nobody can say which came first; then the order that turns most often
 * is taken, and the direction counts as open: whatever comes next is a turn.
 * Unless the heading is down, some group is up, so here too a place for a fall
 * is kept.
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
#include "limit.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* WCAG 2.2: 10 %. A change of exactly that counts, whatever the last bit of a
 * sum says. */
#define TRANSITION (0.10 - 1e-9)
/* A held-back rise stays this far below the valley's 10 %. */
#define HELD_RISE 0.09
/* A channel that asks for this much more in one frame strikes anew. */
#define ATTACK 0.10

/* The most flashes a second that any setting allows. */
enum { LIMIT_MOST = 3, STAMPS_MOST = 4 * LIMIT_MOST };

enum { ALL, BRANCHES, FLOODS, FIRST_GROUP };
#define NO_GROUP SIZE_MAX

/* The transitions of one series, as frames. */
struct history {
    int64_t latest[STAMPS_MOST]; /* a ring */
    int64_t first[STAMPS_MOST];  /* those of the first W frames */
    int first_count;
    int64_t count;               /* in all */
};

/* The two ways from one frame to the next. */
enum way { AT_ONCE, FALLS_FIRST, WAYS };

/* A series followed along one way. */
struct follow {
    double extreme;              /* the peak since it went up, or the valley */
    bool up;
    struct history past;
};

struct track {
    double all_on;               /* weight of its channels together */
    struct follow follow[WAYS];
};

enum heading { DOWN, UP, OPEN };

/* "Any group" along one way. */
struct united {
    enum heading heading;
    struct history past;
};

struct limiter {
    const struct dimmer *d;
    int64_t limit;               /* flashes in a second, 0 = off */
    bool loop;
    int64_t window;              /* W */
    int64_t frames;              /* in a lap */
    int64_t frame;               /* the next one */
    size_t softened;
    size_t track_count;
    struct track *tracks;
    struct united united[WAYS];
    /* this frame, by track */
    double *sum;                 /* light, all-on = 1 */
    double *low;                 /* the same when all falls are done and no rise yet */
    double *share;
    bool *refused[WAYS];
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
    struct limiter *l = calloc(1, sizeof *l);
    if (!l) return TC_ERR_MEMORY;
    const struct tc_rig *rig = d->rig;
    size_t n = d->channels + 1; /* one spare: no channels is no special case */
    l->d = d;
    l->limit = s->flash_limit > LIMIT_MOST ? LIMIT_MOST : s->flash_limit;
    l->loop = s->loop;
    l->window = s->frame_rate + 1;
    l->frames = frames ? frames : 1;
    l->track_count = FIRST_GROUP + rig->group_count;
    l->tracks = calloc(l->track_count, sizeof *l->tracks);
    l->sum = calloc(l->track_count, sizeof *l->sum);
    l->low = calloc(l->track_count, sizeof *l->low);
    l->share = calloc(l->track_count, sizeof *l->share);
    for (int w = 0; w < WAYS; w++) l->refused[w] = calloc(l->track_count, sizeof *l->refused[w]);
    l->kind_track = calloc(n, sizeof *l->kind_track);
    l->group_track = calloc(n, sizeof *l->group_track);
    l->asked = calloc(n, sizeof *l->asked);
    l->given = calloc(n, sizeof *l->given);
    l->now = calloc(n, sizeof *l->now);
    l->asked_light = calloc(n, sizeof *l->asked_light);
    l->given_light = calloc(n, sizeof *l->given_light);
    l->now_light = calloc(n, sizeof *l->now_light);
    l->gain = calloc(n, sizeof *l->gain);
    if (!l->tracks || !l->sum || !l->low || !l->share || !l->refused[AT_ONCE]
        || !l->refused[FALLS_FIRST] || !l->kind_track || !l->group_track || !l->asked || !l->given
        || !l->now || !l->asked_light || !l->given_light || !l->now_light || !l->gain)
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
    *out = l;
    return TC_OK;
fail:
    limiter_destroy(l);
    return TC_ERR_MEMORY;
}

void limiter_destroy(struct limiter *l)
{
    if (!l) return;
    free(l->tracks);
    free(l->sum);
    free(l->low);
    free(l->share);
    for (int w = 0; w < WAYS; w++) free(l->refused[w]);
    free(l->kind_track);
    free(l->group_track);
    free(l->asked);
    free(l->given);
    free(l->now);
    free(l->asked_light);
    free(l->given_light);
    free(l->now_light);
    free(l->gain);
    free(l);
}

size_t limiter_softened(const struct limiter *l)
{
    return l->softened;
}

/* ---- Room in the second ---- */

static void note(struct limiter *l, struct history *h)
{
    h->latest[h->count % STAMPS_MOST] = l->frame;
    h->count++;
    if (l->frame < l->window && h->first_count < STAMPS_MOST) h->first[h->first_count++] = l->frame;
}

static int64_t stamp_back(const struct history *h, int64_t n) /* 0 = the latest */
{
    return h->latest[(h->count - 1 - n) % STAMPS_MOST];
}

/* Transitions within the last W frames. */
static int64_t recent(const struct limiter *l, const struct history *h)
{
    int64_t n = 0, held = h->count < STAMPS_MOST ? h->count : STAMPS_MOST;
    while (n < held && l->frame - stamp_back(h, n) < l->window) n++;
    return n;
}

/* Transitions of the next lap that come less than W frames after `frame`. */
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

/* True if `more` transitions fit, the last of which may come at any later time. */
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
    /* The windows that begin with each recent transition, or with this one. */
    if (more + ahead(l, h, l->frame) > most) return false;
    for (int64_t i = 0; i < n; i++)
        if (i + 1 + more + ahead(l, h, stamp_back(h, i)) > most) return false;
    return true;
}

/* ---- "Any group" ---- */

struct turns {
    int64_t most;       /* transitions, in the order that gives most */
    enum heading after;
};

/* What `ups` rises and `downs` falls in one frame make of a heading. */
static struct turns turns_of(enum heading heading, int64_t ups, int64_t downs)
{
    if (!ups && !downs) return (struct turns){ 0, heading };
    if (!downs) return (struct turns){ heading != UP, UP };
    if (!ups) return (struct turns){ heading != DOWN, DOWN };
    int64_t less = ups < downs ? ups : downs;
    int64_t against = heading == UP ? downs : ups, along = heading == UP ? ups : downs;
    if (heading == OPEN) return (struct turns){ ups == downs ? 2 * ups : 2 * less + 1, OPEN };
    return (struct turns){ against > along ? 2 * along + 1 : 2 * against, OPEN };
}

/* ---- Peak to valley ---- */

/* What a frame does to a series on one way. */
struct move {
    bool fall, rise;     /* transitions, in this order */
    double valley;       /* that a rise is measured from; not if it is up throughout */
    double extreme;      /* after the frame */
    bool up;
};

static struct move move_of(const struct limiter *l, size_t s, enum way way)
{
    const struct follow *f = &l->tracks[s].follow[way];
    double value = l->sum[s], low = way == AT_ONCE ? value : l->low[s];
    struct move m = { .extreme = f->extreme, .up = f->up };
    if (m.up && m.extreme - low >= TRANSITION) {
        m.fall = true;
        m.up = false;
        m.extreme = low;
    }
    if (m.up) {
        if (value > m.extreme) m.extreme = value;
        return m;
    }
    m.valley = low < m.extreme ? low : m.extreme;
    m.rise = m.up = value - m.valley >= TRANSITION;
    m.extreme = m.rise ? value : m.valley;
    return m;
}

static struct turns united_turns(const struct limiter *l, enum way way, int64_t *ups)
{
    int64_t downs = *ups = 0;
    for (size_t s = BRANCHES; s < l->track_count; s++) {
        struct move m = move_of(l, s, way);
        *ups += m.rise;
        downs += m.fall;
    }
    return turns_of(l->united[way].heading, *ups, downs);
}

/* ---- One frame ---- */

/* The highest level not above `from` whose light is not above `light`. */
static uint16_t level_within(const struct limiter *l, size_t c, uint16_t from, double light)
{
    uint16_t level = dimmer_level(l->d, c, (float)light);
    if (level > from) level = from;
    while (level && dimmer_light(l->d, c, level) > light) level--;
    return dimmer_light(l->d, c, level) > 0 ? level : 0;
}

static void put_level(struct limiter *l, size_t c, uint16_t level)
{
    l->now[c] = level;
    l->now_light[c] = dimmer_light(l->d, c, level);
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
        if (l->gain[c] < 1) put_level(l, c, level_within(l, c, levels[c], asked * l->gain[c]));
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
static bool refuse(struct limiter *l, enum way way)
{
    bool *refused = l->refused[way], more = false;
    for (size_t s = 0; s < l->track_count; s++) {
        struct move m = move_of(l, s, way);
        if (refused[s] || !m.rise || fits(l, &l->tracks[s].follow[way].past, m.fall + 2)) continue;
        refused[s] = more = true;
    }
    if (more) return true;
    int64_t ups;
    struct turns turns = united_turns(l, way, &ups);
    if (!ups || fits(l, &l->united[way].past, turns.most + 1)) return false;
    for (size_t s = BRANCHES; s < l->track_count; s++) refused[s] = true;
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
        double rise = l->share[s], above = 0;
        for (int w = 0; w < WAYS; w++) {
            struct move m = move_of(l, s, (enum way)w);
            if (l->refused[w][s] && m.rise)
                above = fmax(above, (l->sum[s] - m.valley - HELD_RISE) * l->tracks[s].all_on);
        }
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
        uint16_t level = level_within(l, c, l->now[c], l->given_light[c] + share * rise);
        put_level(l, c, level > l->given[c] ? level : l->given[c]);
        l->gain[c] = l->now_light[c] / l->asked_light[c];
    }
}

/* In a loop: true if a track must fall in this frame at the latest. */
static bool must_fall(const struct limiter *l, size_t s)
{
    for (int w = 0; w < WAYS; w++) {
        const struct follow *f = &l->tracks[s].follow[w];
        const struct united *u = &l->united[w];
        if (f->up && l->frame >= last_fall(l, &f->past)) return true;
        if (s != ALL && u->heading != DOWN && l->frame >= last_fall(l, &u->past)) return true;
    }
    return false;
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
    for (int w = 0; w < WAYS; w++) {
        int64_t ups;
        struct turns turns = united_turns(l, (enum way)w, &ups);
        struct united *u = &l->united[w];
        for (int64_t i = 0; i < turns.most; i++) note(l, &u->past);
        u->heading = turns.after;
        assert(recent(l, &u->past) + (u->heading != DOWN) <= 2 * l->limit);
        for (size_t s = 0; s < l->track_count; s++) {
            struct move m = move_of(l, s, (enum way)w);
            struct follow *f = &l->tracks[s].follow[w];
            if (m.fall) note(l, &f->past);
            if (m.rise) note(l, &f->past);
            f->up = m.up;
            f->extreme = m.extreme;
            assert(recent(l, &f->past) + f->up <= 2 * l->limit);
        }
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
    bool held = seam && darken(l);
    sum_up(l);
    for (int w = 0; w < WAYS; w++) memset(l->refused[w], 0, l->track_count * sizeof *l->refused[w]);
    /* Every round refuses at least one more track, so this ends. */
    while (refuse(l, AT_ONCE) || refuse(l, FALLS_FIRST)) {
        hold_back(l);
        sum_up(l);
        held = true;
    }
    commit(l);
    l->softened += held;
    memcpy(levels, l->now, size);
    l->frame++;
}

/* ---- The plan ---- */

/* Light of a stroke that can't make a transition by itself. */
#define FAINT 0.10
/* Frames from the peak of a stroke until its fall is a transition. */
enum { FALL_FRAMES = 2 };

struct candidate {
    size_t stroke;
    uint32_t frame, event;
    int rank;           /* 0 first strokes, 1 restrikes heard, 2 drawn */
    float light;
};

static int by_rank(const void *a, const void *b)
{
    const struct candidate *x = a, *y = b;
    if (x->rank != y->rank) return x->rank - y->rank;
    if (x->light > y->light) return -1;
    if (x->light < y->light) return 1;
    return (x->stroke > y->stroke) - (x->stroke < y->stroke);
}

/* The strokes taken so far, by frame. */
struct taken {
    uint32_t *frames;
    size_t count;
};

/* Takes a stroke if among any N + 1 that follow each other, from the fall of
 * the first to the rise of the last, a second and a frame pass. */
static bool take(struct taken *t, uint32_t frame, int64_t limit, int64_t window)
{
    size_t at = t->count, n = (size_t)limit;
    while (at > 0 && t->frames[at - 1] > frame) at--;
    memmove(t->frames + at + 1, t->frames + at, (t->count - at) * sizeof *t->frames);
    t->frames[at] = frame;
    t->count++;
    size_t from = at > n ? at - n : 0;
    for (size_t i = from; i <= at && i + n < t->count; i++) {
        if ((int64_t)t->frames[i + n] - t->frames[i] - FALL_FRAMES >= window) continue;
        t->count--;
        memmove(t->frames + at, t->frames + at + 1, (t->count - at) * sizeof *t->frames);
        return false;
    }
    return true;
}

/* Takes the strokes out that are marked, with their pulses. */
static enum tc_status leave_out(struct tc_timeline *t, const bool *out)
{
    bool *gone = calloc(t->pulse_count + 1, sizeof *gone);
    uint32_t *place = calloc(t->pulse_count + 1, sizeof *place);
    if (!gone || !place) {
        free(gone);
        free(place);
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
    free(gone);
    free(place);
    return TC_OK;
}

enum tc_status limit_thin(struct tc_timeline *t, const struct tc_settings *s)
{
    if (!s->flash_limit || !t->stroke_count) return TC_OK;
    enum tc_status status = TC_ERR_MEMORY;
    struct candidate *list = calloc(t->stroke_count, sizeof *list);
    bool *out = calloc(t->stroke_count, sizeof *out);
    struct taken taken = { calloc(t->stroke_count + 1, sizeof *taken.frames), 0 };
    if (!list || !out || !taken.frames) goto done;

    for (size_t i = 0; i < t->stroke_count; i++) {
        const struct tc_stroke *k = &t->strokes[i];
        list[i] = (struct candidate){ .stroke = i, .frame = k->frame, .event = k->event,
                                      .rank = k->order == 0 ? 0 : k->heard ? 1 : 2,
                                      .light = k->light };
    }
    qsort(list, t->stroke_count, sizeof *list, by_rank);
    for (size_t i = 0; i < t->stroke_count; i++) {
        if (list[i].light < (float)FAINT) continue;
        if (take(&taken, list[i].frame, s->flash_limit, s->frame_rate + 1)) continue;
        /* A first stroke stays and is softened, if need be, when it plays. */
        out[list[i].stroke] = list[i].rank > 0;
    }
    status = leave_out(t, out);
done:
    free(list);
    free(out);
    free(taken.frames);
    return status;
}
