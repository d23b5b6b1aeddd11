/* The recordings of an evening: found in a folder, heard and measured once. */
#ifndef TC_NIGHT_HEAR_H
#define TC_NIGHT_HEAR_H

#include "app/evening.h"

/* Fills in the outcome's recordings, by name. An evening that lies in the
 * folder is no recording of it. TC_ERR_READ, TC_ERR_MEMORY, TC_ERR_STOPPED. */
enum tc_status night_hear(const struct night_job *job, const struct tc_settings *s, struct night_outcome *out,
                          struct tc_problem *why);

/* 0 far .. 100 near: the sharpest of its stronger cracks. */
int night_nearness(const struct tc_analysis *heard);

#endif
