/* Which sensitivity to take, and how sure that is. */
#ifndef TC_SWEEP_CHOICE_H
#define TC_SWEEP_CHOICE_H

#include "marks/sweep.h"

/* Fewer labelled cracks than this that must be found choose nothing: with two
 * or three, chance or a labeller who stopped there decides. */
enum { SWEEP_FEWEST = 10 };

enum sweep_verdict {
    SWEEP_NO_LABELS,    /* nothing can choose */
    SWEEP_NO_CRACKS,    /* the labels name none that must be found */
    SWEEP_AS_HEARD,     /* they are what was heard: not corrected yet */
    SWEEP_ASTRAY,       /* none is near anything heard at any sensitivity */
    SWEEP_FEW,
    SWEEP_INCOMPLETE,   /* labels seem to be missing */
    SWEEP_UNSURE,       /* another fits better, but the labels can't tell the two apart */
    SWEEP_FITS,         /* the one in use is the best */
    SWEEP_MOVE,         /* the best is clearly better: the only verdict that changes anything */
};

/* Rows of the sweep. */
struct sweep_choice {
    enum sweep_verdict verdict;
    double kept;                    /* the sensitivity in use, */
    size_t now;                     /* and its row */
    double best_f;                  /* rows with at least this F have the best */
    size_t best;                    /* of those, `now` or the middle of the run nearest to it */
    size_t taken;
    size_t alike_first, alike_last; /* around `best`, which the labels can't tell from it */
    size_t required;                /* labelled cracks that must be found */
    size_t heard, unlabelled;       /* cracks at `now` in labelled recordings, and those without a label */
    bool incomplete;                /* most of these in recordings where most have none */
};

struct sweep_choice sweep_choose(const struct sweep *t, double sensitivity);

/* The next rows to both sides with another number of cracks; the row itself
 * where there is none. */
size_t sweep_next_lower(const struct sweep *t, size_t row);
size_t sweep_next_higher(const struct sweep *t, size_t row);

/* The longest run of at least three rows with the same number of cracks, the
 * nearest to the middle of several. Not one that goes on to either end: there
 * it is steady for want of cracks. False if there is none. */
bool sweep_longest_alike(const struct sweep *t, size_t *first, size_t *last);

#endif
