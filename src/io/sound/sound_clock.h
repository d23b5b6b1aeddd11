/* Which sample is being heard: what a sound card tells now and then, smoothed.
 * A card tells in jumps (a buffer at a time, late by its own whim); between and
 * over them runs a second-order delay-locked loop (F. Adriaensen, "Using a DLL
 * to filter time", 2005), which follows the card's own rate, however far it is
 * from what it claims. Pure: the caller brings all times. */
#ifndef TC_SOUND_CLOCK_H
#define TC_SOUND_CLOCK_H

#include <stdbool.h>
#include <stdint.h>

struct sound_clock {
    double rate;             /* samples a second that the card claims */
    bool told;
    int64_t frame;           /* of the latest telling */
    double at_s;             /* when that one is heard, smoothed */
    double each_s;           /* a sample's length, smoothed */
    double since_s;          /* of the first telling */
};

void sound_clock_begin(struct sound_clock *c, double rate);
/* Sample `frame` (a later one each time) is heard at `at_s`. */
void sound_clock_tell(struct sound_clock *c, int64_t frame, double at_s);
/* The sample heard at `now_s`; only after a first telling. */
double sound_clock_frame(const struct sound_clock *c, double now_s);

#endif
