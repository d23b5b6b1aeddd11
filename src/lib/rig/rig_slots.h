/* Which slot of the light network a channel has. Slots are counted on through
 * the universes: here from 0, in rig files from 1. */
#ifndef TC_RIG_SLOTS_H
#define TC_RIG_SLOTS_H

#include "words/model.h"
#include "words/network.h"

enum {
    RIG_UNIVERSES_MOST = 64,         /* that one rig may reach into */
    RIG_SLOTS_MOST = RIG_UNIVERSES_MOST * UNIVERSE_SLOTS,
};

/* The slot of a channel (index into the rig). */
size_t rig_slot(const struct tc_rig *rig, size_t channel);

/* How many universes the channels reach into, the first one counted; at least 1. */
size_t rig_universes(const struct tc_rig *rig);

/* True if two channels have the same slot; which ones. */
bool rig_slots_clash(const struct tc_rig *rig, size_t *one, size_t *other);

#endif
