/* Which of some times are the same as those of some others, one to one: as many
 * as can be within a tolerance (as mir_eval 0.7 does for onsets; taking the
 * nearest first finds fewer), of such matchings the one whose errors add up to
 * least, of such the one that leaves the most for the doubtful. */
#ifndef TC_MATCH_H
#define TC_MATCH_H

#include "words/model.h"

/* Rising times in seconds. */
struct match_list {
    const double *at;
    size_t count;
};

#define MATCH_NONE SIZE_MAX

/* Fills partner[e] for each estimate: an index of `required`, or required.count
 * plus an index of `doubtful`, or MATCH_NONE. A doubtful one gets what no
 * required one takes, and never costs one a pair or a better partner.
 * |difference| <= tolerance counts, to a nanosecond. TC_ERR_MEMORY. */
enum tc_status match_times(struct match_list required, struct match_list doubtful, struct match_list estimate,
                           double tolerance, size_t *partner);

#endif
