#include "dimmer.h"

#include <math.h>
#include <stdlib.h>

#include "units.h"

/* ---- Weights ---- */

double rig_weight(const struct tc_rig *rig, size_t channel)
{
    bool all_lumens = true;
    double watts = 0;
    size_t with_watts = 0;
    for (size_t i = 0; i < rig->channel_count; i++) {
        const struct tc_channel *c = &rig->channels[i];
        if (!(c->lumens > 0)) all_lumens = false;
        if (!(c->watts > 0)) continue;
        watts += c->watts;
        with_watts++;
    }
    const struct tc_channel *c = &rig->channels[channel];
    if (all_lumens) return c->lumens;
    if (c->watts > 0) return c->watts;
    /* A lamp without watts shines too: leaving it out would let it flash
     * uncounted, so it weighs as much as the others on average. */
    return with_watts ? watts / (double)with_watts : 1.0;
}

/* ---- Making ---- */

enum tc_status dimmer_create(struct dimmer **out, const struct tc_rig *rig, enum tc_levels unit)
{
    *out = NULL;
    struct dimmer *d = calloc(1, sizeof *d);
    if (!d) return TC_ERR_MEMORY;
    d->rig = rig;
    d->channels = rig->channel_count;
    d->full = unit == TC_LEVELS_8BIT ? 255 : 1000;
    size_t steps = (size_t)d->full + 1;
    size_t room = d->channels ? d->channels : 1;
    d->light = calloc(room * steps, sizeof *d->light);
    d->weight = calloc(room, sizeof *d->weight);
    if (!d->light || !d->weight) goto fail;

    double sum = 0;
    for (size_t c = 0; c < d->channels; c++) sum += d->weight[c] = rig_weight(rig, c);
    for (size_t c = 0; c < d->channels; c++) {
        d->weight[c] /= sum;
        for (size_t i = 0; i < steps; i++)
            d->light[c * steps + i] = channel_light(&rig->channels[c], (double)i * 100.0 / d->full);
    }
    *out = d;
    return TC_OK;
fail:
    dimmer_destroy(d);
    return TC_ERR_MEMORY;
}

void dimmer_destroy(struct dimmer *d)
{
    if (!d) return;
    free(d->light);
    free(d->weight);
    free(d);
}

/* ---- Light to level ---- */

/* A percentage that a rig file gives with one decimal must not slip to the
 * next level by the last bit of a division. */
#define ROUNDING_SLACK 1e-6

uint16_t dimmer_level(const struct dimmer *d, size_t channel, float light)
{
    if (!(light > 0)) return 0;
    const struct tc_channel *c = &d->rig->channels[channel];
    double full = d->full;
    double least = ceil(c->min_level * full / 100.0 - ROUNDING_SLACK);
    double most = floor(c->max_level * full / 100.0 + ROUNDING_SLACK);
    if (most > full) most = full;
    if (least > most) least = most;
    double ideal = channel_percent(c, light) * full / 100.0;
    double below = floor(ideal);
    below = below < least ? least : below > most ? most : below;
    double above = below + 1 > most ? most : below + 1;
    double far_below = fabs(dimmer_light(d, channel, (uint16_t)below) - (double)light);
    double far_above = fabs(dimmer_light(d, channel, (uint16_t)above) - (double)light);
    return (uint16_t)(far_above < far_below ? above : below);
}
