/* One value of a rig file: from its text into the section's values, within its
 * bounds, or what would be right. */
#ifndef TC_RIG_VALUE_H
#define TC_RIG_VALUE_H

#include "rig/rig_keys.h"

struct rig_value {
    const char *where;       /* "channel 4", for messages */
    const struct key *key;
    const char *text;
    char wrong[700];         /* what is wrong with it, where it was not taken */
};

/* Takes the value into the section's values at `target`. */
bool rig_value_take(struct rig_value *v, char *target);

#endif
