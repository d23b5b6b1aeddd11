/* A track beneath an evening, music or narration: at its own level, lower while
 * thunder sounds, from its beginning again where it ends. */
#ifndef TC_UNDER_H
#define TC_UNDER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "thundercue.h"

/* When clips sound, in frames of the evening. */
struct under_span {
    int64_t from, to;
};

struct under_plan {
    const char *path;
    int64_t frames;              /* its length at the evening's rate */
    int64_t end;                 /* of the evening */
    double gain_db, dip_db;      /* its level, and how much lower it is while clips sound */
    bool once;                   /* it isn't repeated */
    const struct under_span *spans; /* by start, apart from each other */
    size_t span_count;
};

struct under;

/* Borrows all but the plan itself. TC_ERR_READ, TC_ERR_MEMORY. */
enum tc_status under_open(struct under **out, const struct under_plan *plan, int rate, struct tc_problem *why);

/* Adds the next frames to `mix`, stereo. */
enum tc_status under_add(struct under *u, float *mix, size_t frames);
/* Nothing more comes of it. */
bool under_ended(const struct under *u);

/* NULL is fine. */
void under_close(struct under *u);

#endif
