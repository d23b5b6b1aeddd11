/* Tuning: what every sensitivity finds in a recording, from one decode and one
 * analysis, and how that agrees with labels. */
#ifndef TC_TUNE_H
#define TC_TUNE_H

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
};

struct tune tune_empty(void);

/* "storm/clap.labels.csv" for "storm/clap.wav" if there is such a file, else
 * NULL. The caller frees it. */
char *tune_labels(const char *recording);

/* Listens to a recording and fills *out (from tune_empty). `labels_path` NULL:
 * NAME.labels.csv beside NAME.wav is used if it is there. TC_ERR_READ,
 * TC_ERR_FORM, TC_ERR_MEMORY with *why. */
enum tc_status tune_listen(const char *recording, const char *labels_path, const struct tc_settings *s,
                           struct tune *out, struct tc_problem *remark, struct tc_problem *why);

/* Adds one to the sum. TC_ERR_MEMORY. */
enum tc_status tune_add(struct tune *sum, const struct tune *one);

/* Labelled cracks that must be found. */
size_t tune_required(const struct tune *t);

/* The row with the best F; among those as good within 0.01 next to it, the
 * middle one. */
size_t tune_best(const struct tune *t);
/* The row that is in use, if its F is as good as the best one's, else the best. */
size_t tune_best_or(const struct tune *t, size_t now);

/* The rows around `best`, first to last, with an F that is not below its. */
void tune_ties(const struct tune *t, size_t best, size_t *first, size_t *last);

/* The rows around `best` that the labels can't tell from it, first to last: by
 * McNemar's test at 5 % (Q. McNemar, Psychometrika 12, 1947) over the cracks
 * that one of the two finds and the other doesn't. */
void tune_as_good(const struct tune *t, size_t best, size_t *first, size_t *last);

/* Without labels: the 20 points over which the number of cracks changes least,
 * compared with itself; of several such the nearest to the middle. Within 20 to
 * 80: beyond, it is steady for want of candidates. */
void tune_steadiest(const struct tune *t, size_t *first, size_t *last);

void tune_clear(struct tune *t);

#endif
