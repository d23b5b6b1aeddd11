/* What the program asks of a player beyond the public calls. */
#ifndef TC_PLAYER_H
#define TC_PLAYER_H

#include "words/model.h"

/* Light frames in which the limiter held a rise back, so far. */
size_t player_softened(const struct tc_player *p);

/* Summed light of a frame's levels, all-on = 1. */
double player_light(const struct tc_player *p, const uint16_t *levels);

#endif
