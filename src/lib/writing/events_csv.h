/* events.csv, by RFC 4180 with CRLF line ends. */
#ifndef TC_EVENTS_CSV_H
#define TC_EVENTS_CSV_H

#include "words/model.h"

/* With the columns strokes and path if any event has them. Errors are the sink's. */
enum tc_status events_write(struct tc_sink to, const struct tc_analysis *a);

#endif
