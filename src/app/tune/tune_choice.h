/* Which sensitivity to take, and how sure that is. */
#ifndef TC_TUNE_CHOICE_H
#define TC_TUNE_CHOICE_H

#include "app/tune/tune.h"

/* Fewer labelled cracks than this that must be found choose nothing: with two
 * or three, chance or a labeller who stopped there decides. */
enum { TUNE_FEWEST = 10 };

enum tune_verdict {
    TUNE_NO_LABELS,    /* nothing can choose */
    TUNE_NO_CRACKS,    /* the labels name none that must be found */
    TUNE_AS_HEARD,     /* they are what was heard: not corrected yet */
    TUNE_ASTRAY,       /* none is near anything heard at any sensitivity */
    TUNE_FEW,
    TUNE_INCOMPLETE,   /* most of what is heard has no label */
    TUNE_UNSURE,       /* another fits better, but the labels can't tell the two apart */
    TUNE_FITS,         /* the one in use is the best */
    TUNE_MOVE,         /* the best is clearly better: the only verdict that changes anything */
};

/* Rows of the sweep. */
struct tune_choice {
    enum tune_verdict verdict;
    double kept;                    /* the sensitivity in use, */
    size_t now;                     /* and its row */
    double best_f;                  /* rows with at least this F have the best */
    size_t best;                    /* of those, `now` or the middle of the run nearest to it */
    size_t taken;
    size_t alike_first, alike_last; /* around `best`, which the labels can't tell from it */
    size_t required;                /* labelled cracks that must be found */
    size_t heard, unlabelled;       /* cracks at `now` in labelled recordings, and those without a label */
    bool incomplete;                /* most have none */
};

struct tune_choice tune_choose(const struct tune *t, double sensitivity);

/* The next rows to both sides with another number of cracks; the row itself
 * where there is none. */
size_t tune_next_lower(const struct tune *t, size_t row);
size_t tune_next_higher(const struct tune *t, size_t row);

/* The longest run of at least three rows with the same number of cracks, the
 * nearest to the middle of several. Not one that goes on to either end: there
 * it is steady for want of cracks. False if there is none. */
bool tune_longest_alike(const struct tune *t, size_t *first, size_t *last);

#endif
