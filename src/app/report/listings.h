/* What `list` prints where a sound card or a network interface can be named. */
#ifndef TC_LISTINGS_H
#define TC_LISTINGS_H

#include <stdio.h>

#include "thundercue.h"

enum tc_status listing_sound_cards(FILE *out, struct tc_problem *why);
enum tc_status listing_interfaces(FILE *out, struct tc_problem *why);

#endif
