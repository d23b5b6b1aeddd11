/* The cueing stage: events, rig and settings make a timeline of pulses. */
#include "cueing/cue.h"

#include <math.h>
#include <string.h>

#include "words/memory.h"
#include "words/settings.h"
#include "words/units.h"
#include "words/watch.h"

/* A flash that is not over where the recording ends gets this much time; only
 * events made by hand can lie beyond it. */
enum { TAIL_MS = 2000 };
/* So often the caller is told how far it is, and asked whether to stop. */
enum { TOLD = 100 };

/* Restrikes keep a light frame between them, or they would not be seen. */
enum { FRAMES_APART = 2 };

/* ---- Tools of the stage ---- */

struct randomiser cue_draw(const struct cueing *q, enum draw what, int64_t start_ms)
{
    return random_keyed(q->key, (uint64_t)what, (uint64_t)start_ms);
}

uint32_t cue_frame(const struct cueing *q, int64_t ms, double earlier_ms)
{
    int64_t early = (int64_t)floor(q->settings->lead_ms + earlier_ms + 0.5);
    return (uint32_t)frame_at(ms - early, q->out->frame_rate);
}

int64_t cue_frames(const struct cueing *q, double ms)
{
    return (int64_t)floor(ms * (double)q->out->frame_rate / 1000 + 0.5);
}

/* ---- A crack ---- */

/* Near and far by degrees: 1 near .. 0 far. */
static double nearness(const struct tc_settings *s, const struct tc_event *e)
{
    double sharpness = floor(100 * (double)e->sharpness + 0.5) / 100; /* steps of 0.01, as written */
    double n = (sharpness - s->far_sharpness) / (s->near_sharpness - s->far_sharpness);
    return n < 0 ? 0 : n > 1 ? 1 : n;
}

/* Light of the branches for a crack just nearer than far, near = 1. */
#define FAR_BRANCHES 0.3
/* A rig without floods shows far flashes faintly on its branches. */
#define FAR_ON_BRANCHES 0.25
/* Far flashes stand on one side of the sky: how often alone, and how bright
 * the other side is if not. */
#define ONE_SIDE_ALONE 0.5
#define OTHER_SIDE 0.35
/* The weakest crack lights this share of the forks of the strongest. */
#define WEAK_FORKS 0.15
/* The longest glow, typical = 1. */
#define GLOW_MOST 4.0

/* What all strokes of a flash have in common. */
struct flash {
    const struct tc_event *event;
    double near, light;
    enum tc_side side;
    double other_side;
    double glow_ms;         /* after one of the strokes; 0 = none */
    uint16_t forced[TC_PATH_MAX_CHANNELS];
    size_t forced_count;
};

static void choose_side(struct cueing *q, struct flash *f)
{
    struct randomiser r = cue_draw(q, DRAW_SIDE, f->event->start_ms);
    bool one = random_uniform(&r) >= f->near;
    f->side = random_below(&r, 2) ? TC_SIDE_FIRST : TC_SIDE_SECOND;
    double alone = random_uniform(&r);
    f->other_side = alone < ONE_SIDE_ALONE * (1 - f->near) ? 0 : OTHER_SIDE + (1 - OTHER_SIDE) * f->near;
    if (!one || q->grove.flood_count < 2) f->side = TC_SIDE_BOTH;
}

static void choose_glow(struct cueing *q, struct flash *f)
{
    struct randomiser r = cue_draw(q, DRAW_GLOW, f->event->start_ms);
    double chance = random_uniform(&r);
    double ms = random_lognormal(&r, q->settings->glow_ms, q->settings->glow_decades);
    if (chance < q->settings->glow_chance) f->glow_ms = fmin(ms, GLOW_MOST * q->settings->glow_ms);
}

/* Channels forced by hand; numbers that the rig doesn't have are passed over. */
static void take_forced(const struct cueing *q, struct flash *f)
{
    const struct tc_rig *rig = q->grove.rig;
    for (int i = 0; i < f->event->path_count && i < TC_PATH_MAX_CHANNELS; i++)
        for (size_t c = 0; c < rig->channel_count; c++)
            if (rig->channels[c].number == f->event->path[i]) f->forced[f->forced_count++] = (uint16_t)c;
}

/* The last branch that is named. */
static uint16_t forced_tip(const struct cueing *q, const struct flash *f)
{
    uint16_t tip = NO_TIP;
    for (size_t i = 0; i < f->forced_count; i++)
        if (q->grove.rig->channels[f->forced[i]].kind == TC_BRANCH) tip = f->forced[i];
    return tip;
}

/* The light of branches, forks and floods in a stroke of this light. */
static void share_light(const struct cueing *q, const struct flash *f, double light, struct strike *k)
{
    const struct tc_settings *s = q->settings;
    double branches = light * s->branch_share, floods = light * s->flood_share;
    if (f->forced_count) { /* hand control: what is named shines, near or far */
        k->branch_light = k->fork_light = branches;
        k->flood_light = floods;
        return;
    }
    if (f->near > 0) branches *= FAR_BRANCHES + (1 - FAR_BRANCHES) * f->near;
    else branches *= q->grove.flood_count ? 0 : FAR_ON_BRANCHES;
    k->branch_light = branches;
    k->fork_light = s->fork_light * branches;
    k->flood_light = floods * (s->far_light + (1 - s->far_light) * f->near);
}

/* The way of each stroke: drawn, kept, or left for a new one. */
static uint16_t way_of(struct cueing *q, const struct flash *f, int order, uint16_t before,
                       struct randomiser *r)
{
    if (f->forced_count) return forced_tip(q, f);
    if (f->near <= 0 && q->grove.flood_count) return NO_TIP;
    if (order == 0) return grove_new_way(&q->grove, r);
    bool leave = random_uniform(r) < (order == 1 ? q->settings->new_path : q->settings->later_path);
    uint16_t other = grove_other_way(&q->grove, r, before);
    return leave ? other : before;
}

/* Where the strokes of a flash come to stand; returns how many find a place. */
struct place {
    int64_t at_ms;
    uint32_t frame;
};

static int place_strokes(const struct cueing *q, const struct tc_event *e, const struct flash_stroke *strokes,
                         int count, int64_t until_ms, struct place *places)
{
    uint32_t until = until_ms == INT64_MAX ? UINT32_MAX : cue_frame(q, until_ms, 0), least = 0;
    for (int i = 0; i < count; i++) {
        int64_t at_ms = e->start_ms + (int64_t)floor(strokes[i].after_ms + 0.5);
        uint32_t frame = cue_frame(q, at_ms, 0);
        if (frame < least) frame = least;
        /* A restrike has its place before the next crack and the end, or none. */
        if (i > 0 && (at_ms >= until_ms || at_ms >= q->to_ms || frame + FRAMES_APART > until
                      || frame + 1 >= q->out->frames))
            return i;
        places[i] = (struct place){ at_ms, frame };
        least = frame + FRAMES_APART;
    }
    return count;
}

/* A continuing current mostly follows a later stroke (from memory: Rakov &
 * Uman 2003): here the brightest of them, which the flash limit spares. */
static int glowing_stroke(const struct flash_stroke *strokes, int count)
{
    int best = count > 1 ? 1 : 0;
    for (int i = 2; i < count; i++)
        if (strokes[i].light > strokes[best].light) best = i;
    return best;
}

static void cue_flash(struct cueing *q, size_t event, int64_t until_ms)
{
    const struct tc_event *e = &q->heard->events[event];
    const struct tc_settings *s = q->settings;
    struct flash f = { .event = e, .near = nearness(s, e) };
    f.light = s->strength * (s->weakest_light + (1 - s->weakest_light) * (double)e->strength);
    choose_side(q, &f);
    choose_glow(q, &f);
    take_forced(q, &f);

    struct flash_stroke strokes[FLASH_STROKES_MOST];
    struct place at[FLASH_STROKES_MOST];
    struct randomiser r = cue_draw(q, DRAW_STROKES, e->start_ms);
    int count = flash_plan(&r, s, q->heard, event, until_ms, strokes);
    count = place_strokes(q, e, strokes, count, until_ms, at);
    int glowing = glowing_stroke(strokes, count);
    struct randomiser ways = cue_draw(q, DRAW_WAY, e->start_ms);
    struct randomiser forking = cue_draw(q, DRAW_FORKS, e->start_ms);
    double ready = f.near * fmin(1, 2 * s->fork_share * (WEAK_FORKS + (1 - WEAK_FORKS) * (double)e->strength));
    uint16_t tip = NO_TIP, forks[FORKS_MOST];

    for (int i = 0; i < count; i++) {
        tip = way_of(q, &f, i, tip, &ways);
        size_t fork_count = grove_forks(&q->grove, &forking, tip, i ? ready * s->restrike_forks : ready, forks, FORKS_MOST);
        bool by_hand = f.forced_count > 0;
        struct strike k = {
            .event = (uint32_t)event, .order = i, .heard = strokes[i].heard,
            .at_ms = at[i].at_ms, .gap_ms = i ? at[i].at_ms - at[i - 1].at_ms : INT64_MAX / 2,
            .frame = at[i].frame, .frame_least = i ? at[i - 1].frame + FRAMES_APART : 0,
            .tip = tip, .by_hand = by_hand, .forks = by_hand ? f.forced : forks,
            .fork_count = by_hand ? f.forced_count : fork_count,
            .side = f.side, .other_side = f.other_side, .softness = 1 - f.near,
            .glow_ms = i == glowing ? f.glow_ms : 0,
        };
        share_light(q, &f, fmin(1, f.light * strokes[i].light), &k);
        if (cue_strike(q, &k)) grove_took(&q->grove, tip);
    }
}

/* ---- The recording ---- */

/* The start of the next crack after this one's moment. */
static int64_t next_crack(const struct tc_analysis *a, size_t event)
{
    for (size_t i = event + 1; i < a->event_count; i++)
        if (a->events[i].kind == TC_CRACK && a->events[i].start_ms > a->events[event].start_ms)
            return a->events[i].start_ms;
    return INT64_MAX;
}

static enum tc_status cue_events(struct cueing *q, const struct tc_watch *watch)
{
    const struct tc_analysis *a = q->heard;
    size_t told = a->event_count / TOLD + 1;
    for (size_t i = 0; i < a->event_count && !q->out_of_memory; i++) {
        const struct tc_event *e = &a->events[i];
        if (i % told == 0 && watch_tell(watch, (double)i / (double)a->event_count) != TC_OK) return TC_ERR_STOPPED;
        if (e->kind != TC_CRACK || e->start_ms < q->from_ms || e->start_ms >= q->to_ms) continue;
        rumble_walk_until(q->rumbles, q, cue_frame(q, e->start_ms, 0));
        cue_flash(q, i, next_crack(a, i));
    }
    rumble_walk_until(q->rumbles, q, UINT32_MAX);
    return watch_tell(watch, 1);
}

/* Rows from 0 to the end of the recording, and of what was added by hand. */
static uint32_t frames_of(const struct tc_analysis *a, int64_t rate)
{
    int64_t length = a->length_ms;
    for (size_t i = 0; i < a->event_count; i++) {
        const struct tc_event *e = &a->events[i];
        int64_t over = e->kind == TC_CRACK ? e->start_ms + 1 : e->end_ms;
        if (over > a->length_ms && over + TAIL_MS > length) length = over + TAIL_MS;
    }
    return (uint32_t)((length * rate + 999) / 1000 + 1);
}

enum tc_status tc_cue(const struct tc_analysis *a, const struct tc_rig *rig,
                      const struct tc_settings *settings, const struct tc_watch *watch,
                      struct tc_timeline *out)
{
    struct tc_settings s;
    memset(out, 0, sizeof *out);
    enum tc_status status = settings_take(&s, settings, NULL);
    if (status != TC_OK) return status;
    out->frame_rate = s.frame_rate;
    out->frames = frames_of(a, s.frame_rate);
    struct cueing q = {
        .heard = a, .settings = &s, .out = out,
        .key = (uint64_t)s.seed ^ (uint64_t)(a->sample_rate > 0 ? a->length_ms : 0),
        .from_ms = (int64_t)floor(s.from_s * 1000 + 0.5),
        .to_ms = s.to_s > 0 ? (int64_t)floor(s.to_s * 1000 + 0.5) : INT64_MAX,
    };
    status = grove_create(&q.grove, rig);
    if (status == TC_OK) status = rumble_walk_create(&q.rumbles, &q);
    if (status == TC_OK) {
        status = cue_events(&q, watch);
        if (q.out_of_memory) status = TC_ERR_MEMORY;
    }
    rumble_walk_destroy(q.rumbles);
    grove_clear(&q.grove);
    if (status != TC_OK) tc_timeline_clear(out);
    return status;
}

void tc_timeline_clear(struct tc_timeline *t)
{
    memory_free(t->strokes);
    memory_free(t->pulses);
    memset(t, 0, sizeof *t);
}
