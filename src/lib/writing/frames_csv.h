/* frames.csv: one row per light frame, by RFC 4180 with CRLF line ends. */
#ifndef TC_FRAMES_CSV_H
#define TC_FRAMES_CSV_H

#include "words/model.h"
#include "words/sink.h"

/* Which channel stands in each column of levels: those of the rig, in its order,
 * or a column for every output of the dimmer. */
struct frames_columns {
    size_t count;
    bool numbered;                       /* "4 trunk tip": for those who go by position */
    int16_t channel[TC_MAX_CHANNELS];    /* index into the rig; -1 = an output without one */
};
/* `outputs` as in the settings. */
struct frames_columns frames_columns(const struct tc_rig *rig, int64_t outputs);

void frames_write_head(struct writer *w, const struct tc_rig *rig, const struct frames_columns *c);
/* `levels` in rig order. */
void frames_write_row(struct writer *w, int64_t at_ms, const uint16_t *levels, const struct frames_columns *c,
                      enum tc_levels unit);

#endif
