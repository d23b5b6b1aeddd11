/* Channels by their numbers, as reports and sheets list them. */
#ifndef TC_CHANNEL_LIST_H
#define TC_CHANNEL_LIST_H

#include "thundercue.h"

/* Room for the longest list of any rig: every other one of 512 channels. */
enum { CHANNEL_LIST_ROOM = 5 * TC_MAX_CHANNELS };

/* "1-4, 7": those whose entry in `which` (by channel of the rig) is `wanted`.
 * A list that is too long for its room ends in "...". Returns how many channels
 * there are, listed or not. */
size_t channel_list(char *to, size_t size, const struct tc_rig *rig, const bool *which, bool wanted);

/* The channels that a word means: "7" by its number, "flood left" by its name
 * whatever its case, "1-4" those from one number to another that the rig has.
 * Fills `channels` (room for all of the rig) and returns how many; 0 = none. */
size_t channel_list_find(const struct tc_rig *rig, const char *word, size_t *channels);

#endif
