/* The sound of an evening: its clips at their times, and the track beneath. */
#ifndef TC_NIGHT_SOUND_H
#define TC_NIGHT_SOUND_H

#include <stdio.h>

#include "app/night/night_job.h"

/* Writes o->plan's sound and fills in o->sound. TC_ERR_READ, TC_ERR_WRITE,
 * TC_ERR_MEMORY, TC_ERR_STOPPED, with *why. */
enum tc_status night_sound_write(const struct night_job *job, int64_t seed, struct night_outcome *o, FILE *to,
                                 struct tc_problem *why);

#endif
