/* The story: one recording from sound to files. Reads top to bottom. */
#ifndef TC_RECORDING_H
#define TC_RECORDING_H

#include "app/clip/job.h"

/* Listens, cues, writes. On failure nothing half-written is left; *why says
 * what happened. Clear the outcome in any case. */
enum tc_status recording_run(const struct job *job, const struct tc_rig *rig,
                             const struct tc_settings *s, struct outcome *out,
                             struct tc_problem *why);

#endif
