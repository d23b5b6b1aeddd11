#include "rig/rig_slots.h"

size_t rig_slot(const struct tc_rig *rig, size_t channel)
{
    const struct tc_channel *c = &rig->channels[channel];
    int first = rig->network.first_slot > 0 ? rig->network.first_slot : 1;
    return (size_t)(c->slot > 0 ? c->slot : first + c->number - 1) - 1;
}

size_t rig_universes(const struct tc_rig *rig)
{
    size_t most = 0;
    for (size_t c = 0; c < rig->channel_count; c++)
        if (rig_slot(rig, c) > most) most = rig_slot(rig, c);
    return most / UNIVERSE_SLOTS + 1;
}

bool rig_slots_clash(const struct tc_rig *rig, size_t *one, size_t *other)
{
    for (size_t a = 0; a < rig->channel_count; a++)
        for (size_t b = a + 1; b < rig->channel_count; b++) {
            if (rig_slot(rig, a) != rig_slot(rig, b)) continue;
            *one = a;
            *other = b;
            return true;
        }
    return false;
}
