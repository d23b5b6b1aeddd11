#include "cueing/light.h"

#include <math.h>

#include "words/model.h"

/* ---- Lamps ---- */

/* Incandescent lamps whose rig file gives no times: our choice, for small ones. */
#define INCANDESCENT_RISE_MS 60.0
#define INCANDESCENT_FALL_MS 90.0

static double rise_of(const struct tc_channel *c)
{
    return c->rise_ms > 0 || c->lamp == TC_LAMP_LED ? c->rise_ms : INCANDESCENT_RISE_MS;
}

static double fall_of(const struct tc_channel *c)
{
    return c->fall_ms > 0 || c->lamp == TC_LAMP_LED ? c->fall_ms : INCANDESCENT_FALL_MS;
}

/* How a lamp, or a set of lamps alike, is to shine in a stroke. */
struct shine {
    uint16_t set;
    const struct tc_channel *lamp;
    double light, glow;     /* glow is a share of the light */
    double decay_ms;
};

/* One pulse. A quick lamp has its peak in the stroke's frame. A slow one is
 * told at once and early, by its rise, and held until the stroke's frame, for
 * only then it shines; it fades by itself, so it is told to fall quicker. */
static void shine(struct draft *d, const struct strike *k, const struct shine *how)
{
    const struct tc_channel *lamp = how->lamp;
    uint16_t peak = light_word(how->light);
    double rise = rise_of(lamp), fall = fall_of(lamp);
    if (!peak) return;
    /* Strokes that follow too quickly would only blur: fewer, longer pulses. */
    if (k->order > 0 && (double)k->gap_ms < rise + fall) return;

    int64_t frame = k->frame, now = draft_frame(d, k->at_ms, 0), least = k->frame_least;
    int64_t told = frame - (now - (int64_t)draft_frame(d, k->at_ms, lamp->lead_ms));
    int64_t begin = frame - (now - (int64_t)draft_frame(d, k->at_ms, lamp->lead_ms + rise));
    if (told < least) told = least < frame ? least : frame;
    if (begin < least) begin = least;
    if (begin < told)
        draft_pulse(d, (struct tc_pulse){ .frame = (uint32_t)told, .channel = how->set, .peak = peak,
                                        .glow = peak, .rise = frames_word(told - begin) });
    int64_t falling = draft_frames(d, PULSE_FALL_CONSTANTS * fmax(how->decay_ms - fall, 0));
    int64_t glowing = draft_frames(d, k->glow_ms);
    struct tc_pulse pulse = { .frame = (uint32_t)told, .channel = how->set, .peak = peak,
                              .fall = frames_word(falling < 1 ? 1 : falling) };
    if (glowing > 1 && how->glow > 0) {
        pulse.glow = light_word(how->light * how->glow);
        pulse.hold = frames_word(glowing);
    }
    draft_pulse(d, pulse);
}

/* ---- Branches and floods ---- */

static void shine_path(struct draft *d, const struct strike *k)
{
    const struct tc_rig *rig = d->paths.rig;
    struct shine how = { .light = k->branch_light, .glow = d->settings->glow_light,
                         .decay_ms = d->settings->decay_ms };
    if (k->tip == TC_NO_TIP) return;
    const uint16_t set = (uint16_t)(TC_SET_PATH + k->tip);
    if (d->paths.branches_alike) {
        how.set = set;
        how.lamp = &rig->channels[k->tip];
        shine(d, k, &how);
        return;
    }
    for (size_t i = 0, c = 0; channel_sets_next(&d->paths.sets, set, &i, &c);) {
        how.set = (uint16_t)c;
        how.lamp = &rig->channels[c];
        shine(d, k, &how);
    }
}

static void shine_forks(struct draft *d, const struct strike *k)
{
    const struct tc_rig *rig = d->paths.rig;
    for (size_t i = 0; i < k->fork_count; i++) {
        const struct tc_channel *lamp = &rig->channels[k->forks[i]];
        bool flood = lamp->kind == TC_FLOOD;
        struct shine how = {
            .set = k->forks[i], .lamp = lamp,
            .light = flood ? k->flood_light : k->fork_light,
            .glow = k->by_hand ? d->settings->glow_light : 0,
            .decay_ms = flood ? d->settings->flood_decay_ms : d->settings->decay_ms,
        };
        shine(d, k, &how);
    }
}

/* A far flash is seen through cloud and rain: it fades slower. */
#define FAR_SLOWER 0.8

static void shine_side(struct draft *d, const struct strike *k, enum tc_side side, double light)
{
    const struct paths *g = &d->paths;
    struct shine how = { .light = light, .glow = d->settings->glow_light,
                         .decay_ms = d->settings->flood_decay_ms * (1 + FAR_SLOWER * k->softness) };
    const uint16_t set = (uint16_t)(TC_SET_FLOODS + side);
    if (g->floods_alike) {
        how.set = set;
        how.lamp = &g->rig->channels[g->sets.floods[0]];
        shine(d, k, &how);
        return;
    }
    for (size_t i = 0, c = 0; channel_sets_next(&g->sets, set, &i, &c);) {
        how.set = (uint16_t)c;
        how.lamp = &g->rig->channels[c];
        shine(d, k, &how);
    }
}

static void shine_floods(struct draft *d, const struct strike *k)
{
    if (!d->paths.sets.flood_count || !(k->flood_light > 0)) return;
    shine_side(d, k, k->side, k->flood_light);
    if (k->side != TC_SIDE_BOTH && k->other_side > 0)
        shine_side(d, k, k->side == TC_SIDE_FIRST ? TC_SIDE_SECOND : TC_SIDE_FIRST, k->flood_light * k->other_side);
}

/* ---- Leader ---- */

/* How long a stepped leader takes is our choice. It is drawn only if that is
 * two light frames or more. */
#define LEADER_MS 35.0

static void lead_down(struct draft *d, const struct strike *k)
{
    int64_t frames = draft_frames(d, LEADER_MS);
    double light = d->settings->leader * k->branch_light;
    if (k->order > 0 || k->tip == TC_NO_TIP || !(light > 0) || frames < 2) return;
    const uint16_t path = (uint16_t)(TC_SET_PATH + k->tip);
    size_t depth = 0, at = 0, c = 0;
    while (channel_sets_next(&d->paths.sets, path, &depth, &c)) continue;
    while (channel_sets_next(&d->paths.sets, path, &at, &c)) {
        if (rise_of(&d->paths.rig->channels[c]) > 0) continue; /* too slow to show it */
        int64_t before = 1 + (int64_t)(at - 1) * frames / (int64_t)depth; /* the tip last */
        int64_t begin = (int64_t)k->frame - before;
        if (begin < (int64_t)k->frame_least) continue;
        draft_pulse(d, (struct tc_pulse){ .frame = k->frame - 1, .channel = (uint16_t)c,
                                        .peak = light_word(light), .glow = light_word(light),
                                        .rise = frames_word(before - 1) });
    }
}

/* ---- The glow's ripple ---- */

/* M-components: brightenings of a continuing current; about every 70 ms and
 * faint is our choice. */
#define RIPPLE_EACH_MS 70.0
#define RIPPLE_LIGHT 1.5 /* their mean, glow = 1; spread from 1 to 2 */

static void ripple(struct draft *d, const struct strike *k)
{
    int64_t from = draft_frames(d, PULSE_FALL_CONSTANTS * d->settings->decay_ms), hold = draft_frames(d, k->glow_ms);
    if (hold < 4 || k->tip == TC_NO_TIP || !d->paths.branches_alike) return;
    if (rise_of(&d->paths.rig->channels[k->tip]) > 0) return;
    struct randomiser r = draft_random(d, DRAW_RIPPLE, k->at_ms);
    double light = d->settings->glow_light * k->branch_light;
    for (double ms = RIPPLE_EACH_MS / 2; ms < k->glow_ms; ms += RIPPLE_EACH_MS) {
        int64_t at = from + draft_frames(d, ms + RIPPLE_EACH_MS * (random_uniform(&r) - 0.5));
        double peak = light * (1 + (RIPPLE_LIGHT - 1) * 2 * random_uniform(&r));
        draft_pulse(d, (struct tc_pulse){ .frame = k->frame + (uint32_t)at, .rise = 1,
                                        .channel = (uint16_t)(TC_SET_PATH + k->tip), .peak = light_word(peak),
                                        .fall = frames_word(1 + draft_frames(d, RIPPLE_EACH_MS / 2)) });
    }
}

bool strike_add(struct draft *d, const struct strike *k)
{
    uint32_t first = (uint32_t)d->out->pulse_count;
    if (!k->by_hand) {
        lead_down(d, k);
        shine_path(d, k);
        shine_floods(d, k);
    }
    shine_forks(d, k);
    uint32_t count = (uint32_t)d->out->pulse_count - first;
    if (!count) return false;
    if (k->glow_ms > 0 && !k->by_hand) ripple(d, k);
    draft_stroke(d, (struct tc_stroke){
        .frame = k->frame, .event = k->event, .order = (uint8_t)k->order, .heard = k->heard,
        .tip = k->tip, .light = (float)fmax(k->branch_light, k->flood_light),
        .first_pulse = first, .pulse_count = (uint32_t)d->out->pulse_count - first,
    });
    return true;
}
