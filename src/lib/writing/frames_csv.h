/* frames.csv: one row per light frame, by RFC 4180 with CRLF line ends. */
#ifndef TC_FRAMES_CSV_H
#define TC_FRAMES_CSV_H

#include "words/model.h"
#include "words/sink.h"

void frames_write_head(struct writer *w, const struct tc_rig *rig);
void frames_write_row(struct writer *w, int64_t at_ms, const uint16_t *levels, size_t channels, enum tc_levels unit);

#endif
