/* What every sensitivity finds in a recording, from one analysis, and how that
 * agrees with labels. */
#ifndef TC_SWEEP_H
#define TC_SWEEP_H

#include "marks/events_text.h"
#include "marks/part.h"
#include "marks/score.h"

enum { SWEEP_STEP = 5, SWEEP_ROWS = 100 / SWEEP_STEP + 1 };

/* What one sensitivity finds. */
struct sweep_row {
    double sensitivity;
    size_t cracks, rumbles;
    struct score score;         /* over labelled recordings */
    size_t unlabelled;          /* cracks without a label in recordings where most have none though some
                                 * must be found: labels seem to be missing there */
};

/* One recording, or the sum of many. */
struct sweep {
    size_t recordings, labelled;
    int64_t length_ms;
    struct sweep_row rows[SWEEP_ROWS];
    size_t labels_as_heard;     /* cracks that must be found, in label files that are exactly what is heard
                                 * at some sensitivity: nobody seems to have corrected those */
    /* of one recording alone, not of a sum */
    double as_heard_at;         /* that sensitivity */
    struct tc_candidate *heard; /* by time */
    size_t heard_count;
    struct marks marks;         /* its labels */
};

struct sweep sweep_empty(void);

/* The row nearest to a sensitivity. */
size_t sweep_row_at(double sensitivity);

/* Fills *out (from sweep_empty) with what a part of a recording has, at all
 * sensitivities. `marks`: its labels, NULL without any. Candidates and labels
 * become the sweep's, and what of *heard lies outside the part goes. `now` is the
 * sensitivity in use. TC_ERR_MEMORY. */
enum tc_status sweep_take(struct sweep *out, struct tc_analysis *heard, struct marks *marks, struct part part,
                          double now);

/* Adds one to the sum. TC_ERR_MEMORY. */
enum tc_status sweep_add(struct sweep *sum, const struct sweep *one);

/* Labelled cracks that must be found. */
size_t sweep_required(const struct sweep *t);

/* The times of one recording's cracks in ms at the sensitivity of a row: those
 * that must be found and are not (`missed`, indices of its labels), and those
 * heard that have no label (`unlabelled`). Each has room for its heard_count or
 * marks.count. TC_ERR_MEMORY. */
enum tc_status sweep_tell(const struct sweep *one, size_t row, size_t *missed, size_t *missed_count,
                          int64_t *unlabelled, size_t *unlabelled_count);

void sweep_clear(struct sweep *t);

#endif
