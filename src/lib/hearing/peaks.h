/* Peaks of a score: which of them are cracks, before a threshold has its say. */
#ifndef TC_HEARING_PEAKS_H
#define TC_HEARING_PEAKS_H

#include "words/model.h"

enum { PEAK_FINE = 6 };         /* a peak is the greatest within so many steps, to each side */

/* A peak of the score, before its stronger neighbours have had their say. */
struct peak {
    struct tc_candidate crack;
    int64_t step;
    float score;
    float db;                   /* mean level after it */
    float loudest_db;           /* the loudest step of it */
};

/* Strong peaks stay and take those near them away, whatever the sensitivity:
 * who stays depends on stronger ones alone. A crack is where the first of two
 * attacks alike was. Leaves those that stay, by step. TC_ERR_MEMORY. */
enum tc_status peaks_thin(struct peak *found, size_t *count);

#endif
