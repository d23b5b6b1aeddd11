/* The recordings of an evening, as they lie in the folder. */
#ifndef TC_NIGHT_FIND_H
#define TC_NIGHT_FIND_H

#include "app/night/night_job.h"

/* Fills in names and paths of the outcome's recordings, by name, and of the
 * track beneath. An evening that lies in the folder is no recording of it.
 * TC_ERR_READ, TC_ERR_MEMORY. */
enum tc_status night_find(const struct night_job *job, struct night_outcome *out, struct tc_problem *why);

#endif
