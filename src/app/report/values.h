/* JSON values as the reports write them. */
#ifndef TC_VALUES_H
#define TC_VALUES_H

#include <jansson.h>

/* A number in steps of 1/steps: a report's numbers have few digits. A new
 * reference, NULL out of memory. */
json_t *value_rounded(double v, double steps);

/* A text; one in broken UTF-8 with its broken bytes shown as '?'. A new
 * reference, NULL out of memory. */
json_t *value_text(const char *s);

#endif
