#include "rig/dimmer.h"

#include <math.h>

#include "words/memory.h"
#include "words/units.h"

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

/* A percentage that a rig file gives with one decimal must not slip to the
 * next level by the last bit of a division. */
#define ROUNDING_SLACK 1e-6

uint16_t channel_most(const struct tc_channel *c, uint16_t full)
{
    double most = floor(c->max_level * full / 100.0 + ROUNDING_SLACK);
    return (uint16_t)(most > full ? full : most < 0 ? 0 : most);
}

static void set_bounds(struct dimmer *d, size_t c)
{
    const struct tc_channel *channel = &d->rig->channels[c];
    double least = ceil(channel->min_level * d->full / 100.0 - ROUNDING_SLACK), most = channel_most(channel, d->full);
    least = least > most ? most : least < 0 ? 0 : least;
    d->least[c] = (uint16_t)least;
    d->most[c] = (uint16_t)most;
}

static bool same_light(const struct tc_channel *a, const struct tc_channel *b)
{
    return a->curve == b->curve && !(a->min_level < b->min_level || a->min_level > b->min_level)
        && !(a->max_level < b->max_level || a->max_level > b->max_level);
}

/* Fills in a table of light for the channel, or finds one that fits. */
static void set_table(struct dimmer *d, size_t c)
{
    const struct tc_channel *channels = d->rig->channels;
    for (size_t other = 0; other < c; other++)
        if (same_light(&channels[other], &channels[c])) {
            d->table[c] = d->table[other];
            return;
        }
    d->table[c] = c * ((size_t)d->full + 1);
    for (size_t i = 0; i <= d->full; i++)
        d->light[d->table[c] + i] = channel_light(&channels[c], (double)i * 100.0 / d->full);
}

enum tc_status dimmer_create(struct dimmer **out, const struct tc_rig *rig, enum tc_levels unit)
{
    *out = NULL;
    struct dimmer *d = memory_new(1, sizeof *d);
    if (!d) return TC_ERR_MEMORY;
    d->rig = rig;
    d->channels = rig->channel_count;
    d->full = level_full(unit);
    size_t room = d->channels ? d->channels : 1;
    d->light = memory_new(room * ((size_t)d->full + 1), sizeof *d->light);
    d->weight = memory_new(room, sizeof *d->weight);
    d->table = memory_new(room, sizeof *d->table);
    d->least = memory_new(room, sizeof *d->least);
    d->most = memory_new(room, sizeof *d->most);
    if (!d->light || !d->weight || !d->table || !d->least || !d->most) goto fail;

    double sum = 0;
    for (size_t c = 0; c < d->channels; c++) sum += d->weight[c] = rig_weight(rig, c);
    for (size_t c = 0; c < d->channels; c++) {
        d->weight[c] /= sum;
        set_bounds(d, c);
        set_table(d, c);
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
    memory_free(d->light);
    memory_free(d->weight);
    memory_free(d->table);
    memory_free(d->least);
    memory_free(d->most);
    memory_free(d);
}

/* ---- Light to level ---- */

uint16_t dimmer_level(const struct dimmer *d, size_t channel, float light)
{
    if (!(light > 0)) return 0;
    double wanted = (double)light, full = d->full;
    double ideal = channel_percent(&d->rig->channels[channel], wanted) * full / 100.0;
    uint16_t least = d->least[channel], most = d->most[channel];
    if (ideal < least) return least;
    uint16_t below = ideal < most ? (uint16_t)ideal : most;
    if (below == most) return below;
    uint16_t above = (uint16_t)(below + 1);
    double far_below = fabs(dimmer_light(d, channel, below) - wanted);
    double far_above = fabs(dimmer_light(d, channel, above) - wanted);
    return far_above < far_below ? above : below;
}

/* By halving, since more level is never less light. */
uint16_t dimmer_level_within(const struct dimmer *d, size_t channel, uint16_t from, double light)
{
    uint16_t low = 0, high = from;
    while (low < high) {
        uint16_t middle = (uint16_t)((low + high + 1) / 2);
        if (dimmer_light(d, channel, middle) <= light) low = middle;
        else high = (uint16_t)(middle - 1);
    }
    return dimmer_light(d, channel, low) > 0 ? low : 0;
}
