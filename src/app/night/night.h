/* The story of an evening: a folder of recordings becomes hours of storm, one
 * sound and one timeline. Reads top to bottom. */
#ifndef TC_NIGHT_H
#define TC_NIGHT_H

#include "app/night/night_job.h"

/* Heard, planned, cued and written, all files or none. TC_ERR_READ (no folder,
 * nothing in it that can be heard), TC_ERR_FORM (the order), TC_ERR_USAGE,
 * TC_ERR_EXISTS, TC_ERR_WRITE, TC_ERR_MEMORY, TC_ERR_STOPPED. Clear *out in
 * any case. `s` is changed where the order gives a seed. */
enum tc_status night_run(const struct night_job *job, const struct tc_rig *rig, struct tc_settings *s,
                         bool own_seed, struct night_outcome *out, struct tc_problem *why);
void night_clear(struct night_outcome *o);

#endif
