/* The loud level of the surroundings: of the mean power over 0.17 s, the loudest
 * within a minute to each side. What is more than some seconds away is forgotten
 * by 1 dB a second, down to 15 dB: a far clap half a minute after a near one
 * counts by what is around it. */
#ifndef TC_HEARING_LOUD_H
#define TC_HEARING_LOUD_H

#include "hearing/levels.h"

enum {
    LOUD_AHEAD = 12000,         /* steps to each side: a minute */
    LOUD_LOOK = 20,             /* steps from one look to the next; the level is kept for each so many */
    LOUD_BLOCKS = 1 << 11,      /* more than two minutes of these */
};

struct loud {
    int64_t smoothed;           /* steps taken in */
    float most;                 /* of the recording, dB */
    float block[LOUD_BLOCKS];   /* loudest of each LOUD_LOOK steps, dB */
};

/* Nothing is heard yet. */
void loud_start(struct loud *d);

/* Takes in what has been heard since. */
void loud_take(struct loud *d, const struct levels *l);

/* dB at `step`. */
float loud_find(const struct loud *d, int64_t step);

#endif
