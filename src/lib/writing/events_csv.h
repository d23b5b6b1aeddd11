/* events.csv, by RFC 4180 with CRLF line ends. Write errors stay with the
 * stream, whose owner checks them once at the end. */
#ifndef TC_EVENTS_CSV_H
#define TC_EVENTS_CSV_H

#include <stdio.h>

#include "words/model.h"

/* With the columns strokes and path if any event has them. */
void events_write(FILE *out, const struct tc_analysis *a);

#endif
