/* Strokes into pulses: what each lamp is told, and when. */
#ifndef TC_LIGHT_H
#define TC_LIGHT_H

#include "cueing/draft.h"

enum { FORKS_MOST = 64 };

struct strike {
    uint32_t event;
    int order;
    bool heard;
    int64_t at_ms;          /* in the recording */
    int64_t gap_ms;         /* since the stroke before, large for the first */
    uint32_t frame;
    uint32_t frame_least;   /* pulses that start early don't start before this */
    uint16_t tip;           /* or TC_NO_TIP */
    const uint16_t *forks;  /* beside the path; by hand: all that is lit */
    size_t fork_count;
    bool by_hand;
    enum tc_side side;      /* of the floods that shine full */
    double branch_light, fork_light, flood_light;
    double other_side;      /* share of the floods on the other side */
    double glow_ms;         /* 0 = none */
    double softness;        /* 0 near .. 1 far: slower falls */
};

/* Adds a stroke, brightest in its frame. False if it would show nothing. */
bool strike_add(struct draft *d, const struct strike *k);

#endif
