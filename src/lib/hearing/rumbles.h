/* Finds rumbles: where the level below 600 Hz, over 0.35 s, stands above the
 * quiet background (5th percentile within a minute) and not 45 dB under the
 * loudest moment within a minute, and more of it lies below 600 Hz than above.
 * Gaps up to 0.6 s are bridged; 0.5 s is the shortest. Keeps two bytes for each
 * 50 ms, and takes six more for each at the end. */
#ifndef TC_RUMBLES_H
#define TC_RUMBLES_H

#include "words/model.h"

struct rumbles;

/* TC_ERR_MEMORY. */
enum tc_status rumbles_create(struct rumbles **out);

/* The next step, in order from 0. TC_ERR_MEMORY (only its tracks grow). */
enum tc_status rumbles_step(struct rumbles *r, const struct hearing *h);

/* After the last step: adds the rumbles (as events, by start) to an analysis
 * that has no events yet. TC_ERR_MEMORY. */
enum tc_status rumbles_finish(struct rumbles *r, int64_t length_ms, struct tc_analysis *out);

/* NULL is fine. */
void rumbles_destroy(struct rumbles *r);

#endif
