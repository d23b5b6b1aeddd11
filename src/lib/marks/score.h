/* How well events agree with labels.
 *
 * Cracks are matched one to one within a tolerance, as many as can be, with the
 * least errors (match.h). Labels of weight 1 are doubtful: matched after the
 * others, neither a miss when absent nor a false alarm when found. Rumbles are compared over steps of 0.1 s
 * (segment-based, as sed_eval does with its own step of 1 s).
 *
 * P = hits / (hits + false alarms), R = hits / (hits + misses),
 * F = 2PR / (P + R); each is 0 where there is nothing to divide by. */
#ifndef TC_SCORE_H
#define TC_SCORE_H

#include "words/model.h"

#define SCORE_TOLERANCE_S 0.05  /* mir_eval, MIREX */
#define SCORE_STEP_S      0.1   /* of rumbles */

/* Which label each estimate is, SCORE_NONE for a false alarm. Labels by start (as
 * read), `estimate` rises; label_of has room for the estimates. TC_ERR_MEMORY. */
#define SCORE_NONE SIZE_MAX
enum tc_status score_pair_cracks(const struct label *labels, size_t label_count, const double *estimate,
                                 size_t estimates, double tolerance, size_t *label_of);

/* Counts of one recording, or of many added up. Start with { 0 }. */
struct score {
    size_t hits, misses, false_alarms;  /* cracks of weight 2, 3 or none */
    size_t doubtful, doubtful_hits;     /* of weight 1 */
    size_t sure, sure_hits;             /* of weight 3 */
    size_t steps_both, steps_heard, steps_labelled; /* rumbles; the last two: only there */
    double *errors;                     /* of the hits: |estimate - reference| in s */
    size_t error_count, error_room;
};

/* Adds a recording's cracks, paired in that way. TC_ERR_MEMORY. */
enum tc_status score_add_cracks(struct score *s, const struct label *labels, size_t label_count,
                                const double *estimate, size_t estimates, double tolerance);

/* Adds a recording's rumbles; cracks among the labels and events are passed
 * over. TC_ERR_MEMORY. */
enum tc_status score_add_rumbles(struct score *s, const struct label *labels, size_t label_count,
                                 const struct tc_event *events, size_t event_count, int64_t length_ms);

/* Adds all counts and errors of another. TC_ERR_MEMORY. */
enum tc_status score_add(struct score *s, const struct score *other);

double score_precision(const struct score *s);
double score_recall(const struct score *s);
double score_f(const struct score *s);
double score_rumble_f(const struct score *s);
/* Percentile 0..1 of the timing errors in seconds, between neighbours by
 * proportion; 0 if there are none. */
double score_error(struct score *s, double percentile);

void score_clear(struct score *s);

#endif
