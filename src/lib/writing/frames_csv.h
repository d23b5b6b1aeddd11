/* frames.csv: one row per light frame, by RFC 4180 with CRLF line ends. */
#ifndef TC_FRAMES_CSV_H
#define TC_FRAMES_CSV_H

#include <stdio.h>

#include "words/model.h"

void frames_write_head(FILE *out, const struct tc_rig *rig);
/* `row`: a buffer of FRAMES_ROW_ROOM bytes that the caller keeps for reuse. */
enum { FRAMES_ROW_ROOM = TC_MAX_CHANNELS * 8 + 64 };
void frames_write_row(FILE *out, char *row, int64_t at_ms, const uint16_t *levels, size_t channels,
                      enum tc_levels unit);

#endif
