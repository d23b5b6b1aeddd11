#include "light/room.h"

#include <math.h>
#include <string.h>

#include "words/flash_rule.h"
#include "words/memory.h"

enum heading { DOWN, UP, OPEN };

/* Where a valley or a peak may be; nowhere unless `any`. */
struct range {
    bool any;
    double low, high;
};

/* One series as somebody sees it. Both ranges: not known yet. */
struct seen {
    struct range valley, peak;
    enum heading heading;    /* of the latest turn */
    int64_t count;
};

enum { HEAD_MOST = 4 * FLASH_LIMIT_MOST };

/* The turns that the first second of a lap brings, as frames. */
struct head {
    int64_t at[HEAD_MOST];
    int64_t count;
};

struct room {
    struct room_for is;
    int64_t frame;
    double *value;           /* of the frame before, by track */
    int64_t *since;          /* by look: the frame whose light it began with */
    struct seen *seen;       /* [look * (tracks + 1) + track]; the last: any group */
    size_t looks;
    struct seen *lap;        /* the look that began with the lap and never ends */
    struct head *head;       /* by track; the last: any group */
    bool broken;
};

/* ---- Making ---- */

static struct seen seen_begin(double value)
{
    struct range at = { true, value, value };
    return (struct seen){ .valley = at, .peak = at, .heading = OPEN };
}

static struct seen *look_of(const struct room *r, size_t look)
{
    return r->seen + look * (r->is.tracks + 1);
}

enum tc_status room_create(struct room **out, const struct room_for *what)
{
    struct room *r = memory_new(1, sizeof *r);
    *out = r;
    if (!r) return TC_ERR_MEMORY;
    r->is = *what;
    size_t room = (size_t)what->window + 2, series = what->tracks + 1;
    r->value = memory_new(what->tracks, sizeof *r->value);
    r->since = memory_new(room, sizeof *r->since);
    r->seen = memory_new(room * series, sizeof *r->seen);
    r->lap = memory_new(series, sizeof *r->lap);
    r->head = memory_new(series, sizeof *r->head);
    if (!r->value || !r->since || !r->seen || !r->lap || !r->head) {
        room_destroy(r);
        *out = NULL;
        return TC_ERR_MEMORY;
    }
    for (size_t s = 0; s < series; s++) r->lap[s] = seen_begin(0);
    r->frame = -1;
    return TC_OK;
}

void room_destroy(struct room *r)
{
    if (!r) return;
    memory_free(r->value);
    memory_free(r->since);
    memory_free(r->seen);
    memory_free(r->lap);
    memory_free(r->head);
    memory_free(r);
}

/* ---- Peak to valley ---- */

/* What a frame does to a series. */
struct move {
    bool fall, rise;             /* possible turns, in this order */
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
 * between `lowest` and `brim`. */
static struct move move_of(const struct room *r, const struct seen *t, double before, double lowest, double value)
{
    const double transition = r->is.transition;
    double brim = fmin(value, before), low = fmin(lowest, brim);
    struct move m = { .valley = t->valley, .peak = t->peak };
    m.fall = t->peak.any && t->peak.high - low >= transition;
    m.peak.any = t->peak.any && t->peak.low - brim < transition;
    if (m.peak.any) {
        m.peak.high = fmax(fmin(m.peak.high, brim + transition), value);
        m.peak.low = fmax(m.peak.low, value);
    }
    if (m.valley.any) {
        m.valley.low = fmin(m.valley.low, low);
        m.valley.high = fmin(m.valley.high, brim);
    }
    if (m.fall) widen(&m.valley, low, fmax(low, fmin(brim, t->peak.high - transition)));

    m.floor = m.valley.low;
    m.rise = m.valley.any && value - m.valley.low >= transition;
    if (m.rise) {
        widen(&m.peak, value, value);
        if (value - m.valley.high < transition) m.valley.low = value - transition + 1e-12;
        else m.valley.any = false;
    }
    return m;
}

/* ---- Turns ---- */

struct turns {
    int64_t count;
    enum heading after;
};

static struct turns turns_of(const struct seen *t, const struct move *m)
{
    struct turns turns = { 0, t->heading };
    if (m->fall) {
        turns.count += turns.after != DOWN;
        turns.after = DOWN;
    }
    if (m->rise) {
        turns.count += turns.after != UP;
        turns.after = UP;
    }
    return turns;
}

static struct turns turns_together(enum heading heading, int64_t ups, int64_t downs)
{
    if (ups && downs) {
        int64_t along = heading == UP ? ups : downs, against = heading == UP ? downs : ups;
        int64_t less = along < against ? along : against;
        if (heading == OPEN) return (struct turns){ along == against ? 2 * less : 2 * less + 1, OPEN };
        return (struct turns){ against > along ? 2 * along + 1 : 2 * against, OPEN };
    }
    if (!ups && !downs) return (struct turns){ 0, heading };
    enum heading after = ups ? UP : DOWN;
    return (struct turns){ after != heading, after };
}

/* ---- Laps ---- */

/* Turns of a track within the first frames of a lap, up to and with `frame`. */
static int64_t head_until(const struct room *r, size_t track, int64_t frame)
{
    const struct head *h = &r->head[track];
    int64_t n = 0;
    while (n < h->count && h->at[n] <= frame) n++;
    return n;
}

/* A lap so short that a second holds more than one of it. */
static bool short_lap(const struct room *r)
{
    return r->is.frames <= r->is.window;
}

/* Transitions that a look that began at `since` will still find in the next lap. */
static int64_t ahead(const struct room *r, size_t track, int64_t since)
{
    if (!r->is.loop || short_lap(r)) return 0;
    return head_until(r, track, since + r->is.window - r->is.frames);
}

bool room_must_be_dark(const struct room *r, size_t track)
{
    if (ahead(r, track, r->frame) >= 2 * r->is.limit) return true;
    return track > 0 && ahead(r, r->is.tracks, r->frame) >= 2 * r->is.limit;
}

/* True if so many transitions of one lap are too many for a loop of it. */
static bool lap_full(const struct room *r, int64_t count)
{
    if (!r->is.loop || !short_lap(r)) return false;
    int64_t laps = r->is.window / r->is.frames + 1;
    return count * laps + 1 > 2 * r->is.limit;
}

/* ---- A frame ---- */

void room_begin(struct room *r)
{
    r->frame++;
}

/* A look as it is at this frame: those that have lasted, then one that begins
 * with the light of the frame before, then that of the lap. */
static bool has_look(const struct room *r, size_t look)
{
    return look >= r->looks || r->frame - r->since[look] <= r->is.window;
}

static const struct seen *see(const struct room *r, size_t look, size_t track, struct seen *fresh)
{
    if (look < r->looks) return &look_of(r, look)[track];
    if (look > r->looks) return &r->lap[track];
    *fresh = seen_begin(track < r->is.tracks ? r->value[track] : 0);
    return fresh;
}

/* Whether a series of a look with these turns is over the limit. */
static bool too_many(const struct room *r, size_t look, size_t track, int64_t count, enum heading after, int64_t spare)
{
    int64_t all = count + (after != DOWN) + 2 * spare;
    if (look > r->looks) return lap_full(r, all);
    int64_t since = look < r->looks ? r->since[look] : r->frame - 1;
    return all + ahead(r, track, since) > 2 * r->is.limit;
}

static bool refuse(double at, bool *refused, double *floor)
{
    if (*refused && at >= *floor) return false;
    *floor = *refused ? fmin(*floor, at) : at;
    *refused = true;
    return true;
}

static bool look_refuses(const struct room *r, size_t look, const double *low, const double *value, int64_t spare,
                         bool *refused, double *floor)
{
    int64_t ups = 0, downs = 0;
    bool any = false;
    struct seen fresh;
    for (size_t s = 0; s < r->is.tracks; s++) {
        const struct seen *t = see(r, look, s, &fresh);
        struct move m = move_of(r, t, r->value[s], low[s], value[s]);
        struct turns turns = turns_of(t, &m);
        if (s > 0) ups += m.rise, downs += m.fall;
        if (m.rise && too_many(r, look, s, t->count + turns.count, turns.after, spare))
            any |= refuse(m.floor, &refused[s], &floor[s]);
    }
    if (!ups) return any;
    const struct seen *u = see(r, look, r->is.tracks, &fresh);
    struct turns turns = turns_together(u->heading, ups, downs);
    if (!too_many(r, look, r->is.tracks, u->count + turns.count, turns.after, spare)) return any;
    for (size_t s = 1; s < r->is.tracks; s++) {
        struct move m = move_of(r, see(r, look, s, &fresh), r->value[s], low[s], value[s]);
        if (m.rise) any |= refuse(m.floor, &refused[s], &floor[s]);
    }
    return any;
}

bool room_refuses(const struct room *r, const double *low, const double *value, int64_t spare, bool *refused,
                  double *floor)
{
    bool any = false;
    for (size_t look = 0; look <= r->looks + short_lap(r); look++)
        if (has_look(r, look)) any |= look_refuses(r, look, low, value, spare, refused, floor);
    return any;
}

static void look_takes(struct room *r, struct seen *seen, const double *low, const double *value)
{
    int64_t ups = 0, downs = 0;
    for (size_t s = 0; s < r->is.tracks; s++) {
        struct seen *t = &seen[s];
        struct move m = move_of(r, t, r->value[s], low[s], value[s]);
        struct turns turns = turns_of(t, &m);
        if (s > 0) ups += m.rise, downs += m.fall;
        *t = (struct seen){ m.valley, m.peak, turns.after, t->count + turns.count };
    }
    struct seen *u = &seen[r->is.tracks];
    struct turns turns = turns_together(u->heading, ups, downs);
    u->heading = turns.after;
    u->count += turns.count;
}

/* What the first second of the lap brings is met again after its last frame. */
static void note_head(struct room *r)
{
    if (r->frame > r->is.window) return;
    for (size_t s = 0; s <= r->is.tracks; s++)
        while (r->head[s].count < r->lap[s].count && r->head[s].count < HEAD_MOST)
            r->head[s].at[r->head[s].count++] = r->frame;
}

void room_take(struct room *r, const double *low, const double *value)
{
    size_t series = r->is.tracks + 1, kept = 0;
    while (kept < r->looks && !has_look(r, kept)) kept++;
    r->looks -= kept;
    memmove(r->since, r->since + kept, r->looks * sizeof *r->since);
    memmove(r->seen, look_of(r, kept), r->looks * series * sizeof *r->seen);
    /* Somebody begins with the light of the frame before. Who began earlier,
     * while nothing changed, has seen the same and ends earlier. */
    struct seen *fresh = look_of(r, r->looks);
    for (size_t s = 0; s < series; s++) fresh[s] = seen_begin(s < r->is.tracks ? r->value[s] : 0);
    r->since[r->looks++] = r->frame - 1;
    for (size_t look = 0; look < r->looks; look++) {
        look_takes(r, look_of(r, look), low, value);
        for (size_t s = 0; s < series; s++) {
            const struct seen *seen = &look_of(r, look)[s];
            r->broken |= seen->count + (seen->heading == UP) + ahead(r, s, r->since[look]) > 2 * r->is.limit;
        }
    }
    look_takes(r, r->lap, low, value);
    note_head(r);
    memcpy(r->value, value, r->is.tracks * sizeof *r->value);
}

bool room_holds(const struct room *r)
{
    return !r->broken;
}
