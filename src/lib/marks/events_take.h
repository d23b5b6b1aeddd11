/* The events of a file in the place of those that were heard. */
#ifndef TC_EVENTS_TAKE_H
#define TC_EVENTS_TAKE_H

#include "marks/events_text.h"

/* Copies them into the analysis, with the sensitivity that the file says. With
 * a recording, what starts after its end is left out and counted in *left_out
 * (may be NULL), and what ends after it ends there. TC_ERR_MEMORY. */
enum tc_status marks_take(const struct marks *m, struct tc_analysis *a, size_t *left_out);

#endif
