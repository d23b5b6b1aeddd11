/* The recordings of an evening heard and measured, each once: by itself, or as
 * it is known from the last time. */
#ifndef TC_NIGHT_HEAR_H
#define TC_NIGHT_HEAR_H

#include "app/night/night_job.h"

/* Fills in the outcome's recordings and the track beneath, whose names are
 * there. Edited events files take the place of what was heard. TC_ERR_READ,
 * TC_ERR_FORM (events), TC_ERR_USAGE, TC_ERR_MEMORY, TC_ERR_STOPPED. */
enum tc_status night_hear(const struct night_job *job, const struct tc_rig *rig, const struct tc_settings *s,
                          struct night_outcome *out, struct tc_problem *why);

/* 0 far .. 100 near: the sharpest of its stronger cracks. */
int night_nearness(const struct tc_analysis *heard);

#endif
