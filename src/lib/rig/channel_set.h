/* The sets of channels that a pulse may stand for (thundercue.h has their
 * numbers), taken apart into the channels of a rig. */
#ifndef TC_CHANNEL_SET_H
#define TC_CHANNEL_SET_H

#include "thundercue.h"

struct channel_sets {
    const struct tc_rig *rig;
    uint16_t *floods;       /* in rig order */
    size_t flood_count;
};

/* Borrows the rig. TC_ERR_MEMORY; then *out is empty. */
enum tc_status channel_sets_create(struct channel_sets *out, const struct tc_rig *rig);
/* A zeroed one is fine. */
void channel_sets_clear(struct channel_sets *s);

/* Walks through the channels of a set, which may be a single one; start with
 * *i = 0. False at the end. Channels that the rig doesn't have are in no set. */
bool channel_sets_next(const struct channel_sets *s, uint16_t set, size_t *i, size_t *channel);

#endif
