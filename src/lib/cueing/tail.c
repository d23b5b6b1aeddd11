#include "cueing/tail.h"

#include <math.h>
#include <string.h>

#include "rig/channel_set.h"
#include "rig/dimmer.h"
#include "words/flash_rule.h"
#include "words/memory.h"
#include "words/pulse.h"

enum { ALL, BRANCHES, FLOODS, FIRST_GROUP };

struct tail {
    const struct tc_timeline *t;
    const struct tc_rig *rig;
    size_t tracks;
    double *all_on, *sum;    /* by track */
    double *weight, *light;  /* by channel */
    struct channel_sets sets;
};

/* ---- Making ---- */

static void add(const struct tail *t, double *sum, size_t c, double light)
{
    const struct tc_channel *channel = &t->rig->channels[c];
    sum[ALL] += light * t->weight[c];
    sum[channel->kind == TC_FLOOD ? FLOODS : BRANCHES] += light * t->weight[c];
    if (channel->group >= 0 && (size_t)channel->group < t->rig->group_count)
        sum[FIRST_GROUP + channel->group] += light * t->weight[c];
}

enum tc_status tail_create(struct tail **out, const struct tc_timeline *timeline, const struct tc_rig *rig)
{
    struct tail *t = memory_new(1, sizeof *t);
    *out = t;
    if (!t) return TC_ERR_MEMORY;
    t->t = timeline;
    t->rig = rig;
    t->tracks = FIRST_GROUP + rig->group_count;
    t->all_on = memory_new(t->tracks, sizeof *t->all_on);
    t->sum = memory_new(t->tracks, sizeof *t->sum);
    t->weight = memory_new(rig->channel_count + 1, sizeof *t->weight);
    t->light = memory_new(rig->channel_count + 1, sizeof *t->light);
    if (!t->all_on || !t->sum || !t->weight || !t->light || channel_sets_create(&t->sets, rig) != TC_OK) {
        tail_destroy(t);
        *out = NULL;
        return TC_ERR_MEMORY;
    }
    for (size_t c = 0; c < rig->channel_count; c++) {
        t->weight[c] = rig_weight(rig, c);
        add(t, t->all_on, c, 1);
    }
    return TC_OK;
}

void tail_destroy(struct tail *t)
{
    if (!t) return;
    memory_free(t->all_on);
    memory_free(t->sum);
    memory_free(t->weight);
    memory_free(t->light);
    channel_sets_clear(&t->sets);
    memory_free(t);
}

/* ---- Light ---- */

static void shine(struct tail *t, uint16_t set, double light)
{
    for (size_t i = 0, c = 0; channel_sets_next(&t->sets, set, &i, &c);) t->light[c] = fmax(t->light[c], light);
}

/* True if so much light is left that its fall would be a transition. */
static bool can_fall(struct tail *t, const struct tc_stroke *k, uint32_t frame)
{
    memset(t->light, 0, t->rig->channel_count * sizeof *t->light);
    memset(t->sum, 0, t->tracks * sizeof *t->sum);
    for (uint32_t i = 0; i < k->pulse_count; i++) {
        const struct tc_pulse *p = &t->t->pulses[k->first_pulse + i];
        struct pulse_fall fall = pulse_fall_of(p);
        double light = (double)pulse_light(p, &fall, frame);
        if (light > 0) shine(t, p->channel, light);
    }
    for (size_t c = 0; c < t->rig->channel_count; c++)
        if (t->light[c] > 0) add(t, t->sum, c, t->light[c]);
    for (size_t s = 0; s < t->tracks; s++)
        if (t->sum[s] >= FLASH_GUARDED * t->all_on[s] && t->sum[s] > 0) return true;
    return false;
}

int64_t tail_of(struct tail *t, const struct tc_stroke *stroke)
{
    /* Light only falls, but for the ripples of a glow: after the last of them
     * that is bright enough the end is found by halves. */
    uint32_t low = stroke->frame, high = stroke->frame + 1;
    for (uint32_t i = 0; i < stroke->pulse_count; i++) {
        const struct tc_pulse *p = &t->t->pulses[stroke->first_pulse + i];
        if (pulse_end(p) > high) high = pulse_end(p);
        if (p->frame > low && can_fall(t, stroke, p->frame)) low = p->frame;
    }
    while (high - low > 1) {
        uint32_t middle = low + (high - low) / 2;
        if (can_fall(t, stroke, middle)) low = middle;
        else high = middle;
    }
    return high - stroke->frame;
}
