/* Root-to-tip paths through the branches of a rig, and the forks beside them. */
#ifndef TC_PATHS_H
#define TC_PATHS_H

#include "rig/channel_set.h"
#include "thundercue.h"
#include "words/random.h"

enum { PATHS_LAST = 4 };

/* The rig as a bolt sees it: indices of channels. */
struct paths {
    const struct tc_rig *rig;
    uint16_t *tips;         /* branches from which none grows */
    size_t tip_count;
    struct channel_sets sets;
    uint16_t *shuffled;     /* room for all tips */
    int32_t *first_child, *next_sibling; /* by channel; -1 = none */
    int32_t first_root;
    bool branches_alike, floods_alike;   /* lamps need the same treatment */
    uint16_t last[PATHS_LAST];            /* the tips taken last */
    size_t last_count;
};

enum tc_status paths_create(struct paths *out, const struct tc_rig *rig);
void paths_clear(struct paths *g);

/* A tip other than the last few, every tip as likely. TC_NO_TIP without branches. */
uint16_t paths_new(struct paths *g, struct randomiser *r);
/* For a stroke that leaves the path of `tip`: another tip, rather one that
 * shares much of the path; `tip` itself if there is no other. */
uint16_t paths_other(struct paths *g, struct randomiser *r, uint16_t tip);
/* Remembers that a flash took this path. */
void paths_took(struct paths *g, uint16_t tip);

/* Channels beside the path that light with it; returns how many, at most
 * `most`. `readiness` 0..1. */
size_t paths_forks(const struct paths *g, struct randomiser *r, uint16_t tip, double readiness,
                   uint16_t *forks, size_t most);

#endif
