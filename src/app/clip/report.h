/* The report of a run: a page of text for people, the same as JSON for
 * machines. Says nothing of clocks or machines, so that it is the same bytes
 * for the same input. */
#ifndef TC_REPORT_H
#define TC_REPORT_H

#include <stdio.h>

#include "app/clip/job.h"

void report_text(FILE *out, const struct job *job, const struct tc_rig *rig,
                 const struct tc_settings *s, const struct outcome *o);

struct json_t;

/* `night`: what an evening has besides, taken over; NULL = none. TC_ERR_MEMORY, TC_ERR_WRITE. */
enum tc_status report_json(FILE *out, const struct job *job, const struct tc_rig *rig,
                           const struct tc_settings *s, const struct outcome *o, struct json_t *night,
                           struct tc_problem *why);

/* True if something in the outcome is a finding: load over the advice, flash
 * rate over the limit. */
bool report_findings(const struct tc_rig *rig, const struct outcome *o);

#endif
