/* What a live show is asked to play, when and where to. */
#ifndef TC_SHOW_JOB_H
#define TC_SHOW_JOB_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { OFFSET_MOST_MS = 10000, LOCKOUT_LEAST_S = 1 };
#define LOCKOUT_USUAL_S 5

/* What is about to be played, and where to. */
struct show_ready {
    const char *name;        /* of the file */
    double seconds;          /* of one lap */
    const char *to;          /* host; NULL or empty: multicast */
    int universe;            /* the first */
    size_t universes;
    bool terminal;           /* a line of status will tell how far it is */
};

struct show_job {
    const char *thing;       /* a recording, a frames.csv or a night.csv */
    const char *sound;       /* of a frames.csv; NULL: the one beside it */
    const char *events;      /* to cue a recording from, or NULL */
    const char *to;          /* host instead of the rig's; NULL = as the rig says */
    const char *interface;   /* by which multicast leaves, or NULL */
    const char *sound_device; /* the sound card's name, or NULL for the usual one */
    const char *at;          /* time of day, or NULL */
    const char *trigger;     /* or NULL */
    int64_t offset_ms;       /* light so much later than sound */
    int64_t lockout_s;       /* dark after a show before a trigger counts again */
    bool no_sound, quiet;
    bool own_rig;            /* the user named a rig file: columns must be its channels */
    /* All is read and open, nothing has lit yet; may be NULL. */
    void (*ready)(void *user, const struct show_ready *r);
    void *user;
};

#endif
