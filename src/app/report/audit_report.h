/* What an audit found (light/audit.h), for people and for machines. */
#ifndef TC_AUDIT_REPORT_H
#define TC_AUDIT_REPORT_H

#include <stdio.h>

#include <jansson.h>

#include "light/audit.h"

void audit_report_text(FILE *out, const struct audit_job *job, const struct audit *a);

/* NULL out of memory. */
json_t *audit_report_json(const struct audit_job *job, const struct audit *a);

#endif
