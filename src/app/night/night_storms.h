/* An evening's plan looked at as people do: its storms, its silences. */
#ifndef TC_NIGHT_STORMS_H
#define TC_NIGHT_STORMS_H

#include "app/night/night_job.h"

/* Turns of one storm that follow each other. */
struct night_storm {
    size_t first, count;               /* its turns */
    int number;                        /* 0: a clip alone */
    int64_t start_ms, end_ms;
    const struct night_turn *nearest;  /* the turn of its nearest clip */
};

/* The storm after *s, or the first after a zeroed one. False after the last. */
bool night_storm_next(const struct night_outcome *o, struct night_storm *s);

/* How long something sounds (where clips overlap it counts once), and the longest silence. */
struct night_sounding {
    int64_t sounding_ms, silence_ms;
};
struct night_sounding night_sounding(const struct night_plan *p);

/* Recordings that could be heard and have no turn. */
size_t night_idle(const struct night_outcome *o);

#endif
