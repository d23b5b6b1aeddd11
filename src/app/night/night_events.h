/* Events that the user edited, in the place of what was heard of a clip. */
#ifndef TC_NIGHT_EVENTS_H
#define TC_NIGHT_EVENTS_H

#include "app/night/night_job.h"

/* Looks for STEM.events.csv beside the recordings and in the job's folder of
 * events (whose file goes first); one that is as thundercue wrote it says
 * nothing new and is passed over. A note tells of each that was taken.
 * TC_ERR_FORM with *why, TC_ERR_MEMORY. */
enum tc_status night_events_take(const struct night_job *job, const struct tc_rig *rig, struct night_outcome *out,
                                 struct tc_problem *why);

#endif
