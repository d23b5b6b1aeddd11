/* What a show is cued from: the events and the envelope of a recording, of an
 * events file, or of both. */
#ifndef TC_RUN_HEAR_H
#define TC_RUN_HEAR_H

#include "app/clip/run.h"

/* Fills in the run's `heard` and the outcome's remark. Events of a file take
 * the place of those heard. TC_ERR_READ, TC_ERR_FORM (events), TC_ERR_MEMORY,
 * TC_ERR_STOPPED. */
enum tc_status run_hear(struct run *r);

/* Checks that the paths of cracks, which only an events file can give, are the
 * rig's. TC_ERR_FORM with *why naming the file. */
enum tc_status run_check_paths(const struct tc_analysis *heard, const struct tc_rig *rig, const char *events,
                               struct tc_problem *why);

/* Adds a sentence to what the user should know. */
void run_remark(struct run *r, const char *sentence);

#endif
