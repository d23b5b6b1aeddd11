/* Light to levels and back for every channel of a rig, and how much each
 * channel counts in the summed light. Levels are whole numbers: tenths of a
 * percent (0..1000) or 0..255. */
#ifndef TC_DIMMER_H
#define TC_DIMMER_H

#include "words/model.h"

struct dimmer {
    size_t channels;
    uint16_t full;      /* the level that means 100 percent: 1000 or 255 */
    double *light;      /* [table[channel] + level] -> 0..1 */
    size_t *table;      /* channels with the same curve and bounds share one */
    double *weight;     /* share of the all-on light, sums to 1 */
    uint16_t *least, *most; /* levels from which the lamp lights, and its top */
    const struct tc_rig *rig;
};

/* Borrows the rig. TC_ERR_MEMORY. */
enum tc_status dimmer_create(struct dimmer **out, const struct tc_rig *rig, enum tc_levels unit);
void dimmer_destroy(struct dimmer *d);

static inline double dimmer_light(const struct dimmer *d, size_t channel, uint16_t level)
{
    return d->light[d->table[channel] + level];
}

/* The highest level, of `full`, that is not above the channel's max_level. */
uint16_t channel_most(const struct tc_channel *c, uint16_t full);

/* The level that comes nearest to a light: 0 for no light, never below the
 * channel's minimum or above its maximum otherwise. */
uint16_t dimmer_level(const struct dimmer *d, size_t channel, float light);

/* The highest level not above `from` whose light is not above `light`; 0 if
 * that would be a level without light. */
uint16_t dimmer_level_within(const struct dimmer *d, size_t channel, uint16_t from, double light);

/* What a channel weighs in the summed light: lumens if every channel of the
 * rig has them, else watts; a channel without watts weighs as the others do on
 * average, all alike if none has any. Not normalised. */
double rig_weight(const struct tc_rig *rig, size_t channel);

#endif
