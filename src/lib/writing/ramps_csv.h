/* ramps.csv: the same as straight lines, by RFC 4180 with CRLF line ends. */
#ifndef TC_RAMPS_CSV_H
#define TC_RAMPS_CSV_H

#include "words/model.h"
#include "words/sink.h"

/* Turns levels into ramps. A ramp starts and ends on the level of its frame and
 * passes those between by a quarter of a percent of the channel's light at most;
 * a jump up within one frame is a ramp that starts and ends in that frame;
 * where a channel is dark, its ramps are. */
struct ramper;
/* Borrows the rig for the call. `full` is the level of 100 percent. TC_ERR_MEMORY. */
enum tc_status ramper_create(struct ramper **out, const struct tc_rig *rig, uint16_t full);
/* The next frame's levels. TC_ERR_MEMORY (only if many ramps overlap). */
enum tc_status ramper_step(struct ramper *r, const uint16_t *levels);
/* After the last frame: closes every open ramp. TC_ERR_MEMORY. */
enum tc_status ramper_flush(struct ramper *r);
/* The next finished ramp, by start, then channel; false if none is ready. */
bool ramper_next(struct ramper *r, struct ramp *out);
void ramper_destroy(struct ramper *r);

void ramps_write_head(struct writer *w);
void ramps_write_row(struct writer *w, const struct ramp *ramp, const struct tc_rig *rig,
                     const struct tc_settings *s);

#endif
