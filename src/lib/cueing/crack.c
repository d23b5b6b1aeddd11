#include "cueing/crack.h"

#include <math.h>

#include "cueing/flash_draw.h"
#include "cueing/light.h"

/* Restrikes keep a light frame between them, or they would not be seen. */
enum { FRAMES_APART = 2 };

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

static void choose_side(struct draft *d, struct flash *f)
{
    struct randomiser r = draft_random(d, DRAW_SIDE, f->event->start_ms);
    bool one = random_uniform(&r) >= f->near;
    f->side = random_below(&r, 2) ? TC_SIDE_FIRST : TC_SIDE_SECOND;
    double alone = random_uniform(&r);
    f->other_side = alone < ONE_SIDE_ALONE * (1 - f->near) ? 0 : OTHER_SIDE + (1 - OTHER_SIDE) * f->near;
    if (!one || d->paths.sets.flood_count < 2) f->side = TC_SIDE_BOTH;
}

static void choose_glow(struct draft *d, struct flash *f)
{
    struct randomiser r = draft_random(d, DRAW_GLOW, f->event->start_ms);
    double chance = random_uniform(&r);
    double ms = random_lognormal(&r, d->settings->glow_ms, d->settings->glow_decades);
    if (chance < d->settings->glow_chance) f->glow_ms = fmin(ms, GLOW_MOST * d->settings->glow_ms);
}

/* Channels forced by hand; numbers that the rig doesn't have are passed over. */
static void take_forced(const struct draft *d, struct flash *f)
{
    const struct tc_rig *rig = d->paths.rig;
    for (int i = 0; i < f->event->path_count && i < TC_PATH_MAX_CHANNELS; i++)
        for (size_t c = 0; c < rig->channel_count; c++)
            if (rig->channels[c].number == f->event->path[i]) f->forced[f->forced_count++] = (uint16_t)c;
}

/* The last branch that is named. */
static uint16_t forced_tip(const struct draft *d, const struct flash *f)
{
    uint16_t tip = TC_NO_TIP;
    for (size_t i = 0; i < f->forced_count; i++)
        if (d->paths.rig->channels[f->forced[i]].kind == TC_BRANCH) tip = f->forced[i];
    return tip;
}

/* The light of branches, forks and floods in a stroke of this light. */
static void share_light(const struct draft *d, const struct flash *f, double light, struct strike *k)
{
    const struct tc_settings *s = d->settings;
    double branches = light * s->branch_share, floods = light * s->flood_share;
    if (f->forced_count) { /* hand control: what is named shines, near or far */
        k->branch_light = k->fork_light = branches;
        k->flood_light = floods;
        return;
    }
    if (f->near > 0) branches *= FAR_BRANCHES + (1 - FAR_BRANCHES) * f->near;
    else branches *= d->paths.sets.flood_count ? 0 : FAR_ON_BRANCHES;
    k->branch_light = branches;
    k->fork_light = s->fork_light * branches;
    k->flood_light = floods * (s->far_light + (1 - s->far_light) * f->near);
}

/* The path of each stroke: drawn, kept, or left for a new one. */
static uint16_t path_of(struct draft *d, const struct flash *f, int order, uint16_t before,
                       struct randomiser *r)
{
    if (f->forced_count) return forced_tip(d, f);
    if (f->near <= 0 && d->paths.sets.flood_count) return TC_NO_TIP;
    if (order == 0) return paths_new(&d->paths, r);
    bool leave = random_uniform(r) < (order == 1 ? d->settings->new_path : d->settings->later_path);
    uint16_t other = paths_other(&d->paths, r, before);
    return leave ? other : before;
}

/* Gives the strokes of a flash their places; returns how many find one. */
struct place {
    int64_t at_ms;
    uint32_t frame;
};

static int place_strokes(const struct draft *d, const struct tc_event *e, const struct flash_stroke *strokes,
                         int count, int64_t until_ms, struct place *places)
{
    uint32_t until = until_ms == INT64_MAX ? UINT32_MAX : draft_frame(d, until_ms, 0), least = 0;
    for (int i = 0; i < count; i++) {
        int64_t at_ms = e->start_ms + (int64_t)floor(strokes[i].after_ms + 0.5);
        uint32_t frame = draft_frame(d, at_ms, 0);
        if (frame < least) frame = least;
        /* A restrike has its place before the next crack and the end, or none. */
        if (i > 0 && (at_ms >= until_ms || at_ms >= d->to_ms || frame + FRAMES_APART > until
                      || frame + 1 >= d->out->frames))
            return i;
        places[i] = (struct place){ at_ms, frame };
        least = frame + FRAMES_APART;
    }
    return count;
}

/* Our choice: a continuing current follows a later stroke where there is one,
 * the brightest of them, which the flash limit spares. */
static int glowing_stroke(const struct flash_stroke *strokes, int count)
{
    int best = count > 1 ? 1 : 0;
    for (int i = 2; i < count; i++)
        if (strokes[i].light > strokes[best].light) best = i;
    return best;
}

void crack_cue(struct draft *d, size_t event, int64_t until_ms)
{
    const struct tc_event *e = &d->heard->events[event];
    const struct tc_settings *s = d->settings;
    struct flash f = { .event = e, .near = nearness(s, e) };
    f.light = s->strength * (s->weakest_light + (1 - s->weakest_light) * (double)e->strength);
    choose_side(d, &f);
    choose_glow(d, &f);
    take_forced(d, &f);

    struct flash_stroke strokes[FLASH_STROKES_MOST];
    struct place at[FLASH_STROKES_MOST];
    struct randomiser r = draft_random(d, DRAW_STROKES, e->start_ms);
    int count = flash_plan(&r, s, d->heard, event, until_ms, strokes);
    count = place_strokes(d, e, strokes, count, until_ms, at);
    int glowing = glowing_stroke(strokes, count);
    struct randomiser path = draft_random(d, DRAW_PATH, e->start_ms);
    struct randomiser forking = draft_random(d, DRAW_FORKS, e->start_ms);
    double ready = f.near * fmin(1, 2 * s->fork_share * (WEAK_FORKS + (1 - WEAK_FORKS) * (double)e->strength));
    uint16_t tip = TC_NO_TIP, forks[FORKS_MOST];

    for (int i = 0; i < count; i++) {
        tip = path_of(d, &f, i, tip, &path);
        size_t fork_count = paths_forks(&d->paths, &forking, tip, i ? ready * s->restrike_forks : ready, forks,
                                        FORKS_MOST);
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
        share_light(d, &f, fmin(1, f.light * strokes[i].light), &k);
        if (strike_add(d, &k)) paths_took(&d->paths, tip);
    }
}
