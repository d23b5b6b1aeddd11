/* Finds cracks and rumbles in what the ear hears.
 *
 * A crack candidate is an abrupt rise of many bands at once; each candidate
 * carries the lowest sensitivity at which it counts, so that choosing events
 * for a sensitivity is a comparison and a sweep needs one analysis only. */
#ifndef TC_DETECT_H
#define TC_DETECT_H

#include "model.h"

struct detector;

/* TC_ERR_MEMORY. */
enum tc_status detector_create(struct detector **out);

/* The next step, in order. TC_ERR_MEMORY (only its results grow). */
enum tc_status detector_step(struct detector *d, const struct hearing *h);

/* After the last step: moves candidates and rumbles (as events) into *out. */
enum tc_status detector_finish(struct detector *d, int64_t length_ms, struct tc_analysis *out);

void detector_destroy(struct detector *d);

#endif
