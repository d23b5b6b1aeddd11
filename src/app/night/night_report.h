/* The report of an evening, before that of its light: length, storms, clips,
 * loudness. */
#ifndef TC_NIGHT_REPORT_H
#define TC_NIGHT_REPORT_H

#include <stdio.h>

#include "app/night/night_job.h"

void night_report(FILE *out, const struct night_job *job, const struct tc_rig *rig, const struct tc_settings *s,
                  const struct night_outcome *o);

/* The same for machines, of a struct night_outcome. A new reference, NULL out of memory. */
struct json_t *night_report_json(const void *outcome);

#endif
