/* The order of an evening: which recording plays when. A pure function of the
 * wish, the clips and a seed.
 *
 * Clips come in rounds: in each, every clip has its turn once. A round is cut
 * into storms of a few clips, each of which comes nearer, stands overhead and
 * leaves; gaps are shortest overhead and longest between storms. */
#ifndef TC_NIGHT_PLAN_H
#define TC_NIGHT_PLAN_H

#include <stddef.h>
#include <stdint.h>

#include "thundercue.h"

#define NIGHT_NO_CLIP ((size_t)-1)

struct night_wish {
    int64_t length_ms;             /* the last clip ends then, or somewhat before */
    int64_t gap_least_ms, gap_most_ms; /* below 0 clips overlap, by half of the shorter one at most */
    int64_t quiet_from_ms, quiet_to_ms; /* no clip sounds between; equal = none */
    size_t opening, closing;       /* clips that play first and last, and only then; or NIGHT_NO_CLIP */
    uint64_t seed;
};

struct night_clip {
    int64_t length_ms;
    int nearness;                  /* 0 far .. 100 near */
};

/* A clip's turn. */
struct night_turn {
    int64_t start_ms, end_ms;
    size_t clip;
    int storm;                     /* from 1; 0 = opening or closing */
    double gain_db;                /* left at 0 here */
};

struct night_plan {
    struct night_turn *turns;      /* by start */
    size_t count, room;
};

/* A place for one more turn; TC_ERR_MEMORY. */
enum tc_status night_plan_add(struct night_plan *p, struct night_turn turn);

/* A plan has no turns if none fits. TC_ERR_MEMORY. */
enum tc_status night_plan_make(struct night_plan *p, const struct night_wish *wish, const struct night_clip *clips,
                               size_t count);

/* When its last clip ends; 0 without any. */
int64_t night_plan_end(const struct night_plan *p);

void night_plan_clear(struct night_plan *p);

#endif
