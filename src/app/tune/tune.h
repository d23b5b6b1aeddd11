/* What every sensitivity finds in a recording, from one analysis, and how that
 * agrees with labels. */
#ifndef TC_TUNE_H
#define TC_TUNE_H

#include "app/tune/tune_part.h"
#include "marks/score.h"
#include "words/model.h"

enum { TUNE_STEP = 5, TUNE_ROWS = 100 / TUNE_STEP + 1 };

/* What one sensitivity finds. */
struct tune_row {
    double sensitivity;
    size_t cracks, rumbles;
    struct score score;         /* over labelled recordings */
};

/* One recording, or the sum of many. */
struct tune {
    size_t recordings, labelled;
    int64_t length_ms;
    struct tune_row rows[TUNE_ROWS];
    size_t labels_as_heard;     /* cracks that must be found, in label files that are exactly what is heard
                                 * at some sensitivity: nobody seems to have corrected those */
    /* of one recording alone, not of a sum */
    double as_heard_at;         /* that sensitivity */
    struct tc_candidate *heard; /* by time */
    size_t heard_count;
    struct marks marks;         /* its labels */
};

struct tune tune_empty(void);

/* The row nearest to a sensitivity. */
size_t tune_row_at(double sensitivity);

/* Fills *out (from tune_empty) with what a part of a recording has, at all
 * sensitivities. `marks`: its labels, NULL without any. Candidates and labels
 * become the sweep's, and what of *heard lies outside the part goes. `now` is the
 * sensitivity in use. TC_ERR_MEMORY. */
enum tc_status tune_take(struct tune *out, struct tc_analysis *heard, struct marks *marks, struct tune_part part,
                         double now);

/* Adds one to the sum. TC_ERR_MEMORY. */
enum tc_status tune_add(struct tune *sum, const struct tune *one);

/* Labelled cracks that must be found. */
size_t tune_required(const struct tune *t);

/* The times of one recording's cracks in ms at the sensitivity of a row: those
 * that must be found and are not (`missed`, indices of its labels), and those
 * heard that have no label (`unlabelled`). Each has room for its heard_count or
 * marks.count. TC_ERR_MEMORY. */
enum tc_status tune_tell(const struct tune *one, size_t row, size_t *missed, size_t *missed_count,
                         int64_t *unlabelled, size_t *unlabelled_count);

void tune_clear(struct tune *t);

#endif
