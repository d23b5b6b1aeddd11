/* What a run's report tells of its show: how many strokes of which kind, what
 * stays dark, how it flashes and what it draws. */
#ifndef TC_RUN_SUM_H
#define TC_RUN_SUM_H

#include "app/clip/run.h"
#include "show/showing.h"

/* Fills in the run's outcome, which takes the load over from *shown.
 * TC_ERR_MEMORY, TC_ERR_STOPPED. */
enum tc_status run_sum_up(struct run *r, struct shown *shown);

#endif
