/* The hookup test: channels lit one by one, or faded up to find the level at
 * which a lamp first lights, over the same light network as a show. */
#ifndef TC_HOOKUP_H
#define TC_HOOKUP_H

#include "words/model.h"

struct hookup_job {
    const size_t *channels;      /* indices into the rig, in the order asked for */
    size_t count;
    const char *to;              /* host instead of the rig's; NULL = as the rig says */
    const char *interface;       /* by which multicast leaves, or NULL */
    double level;                /* percent */
    double seconds;              /* each; 0 = until a key or a signal */
    bool find_lowest;            /* fade up until a key is pressed */
    double *lowest;              /* by place in `channels`: percent found, -1 = not; for find_lowest */
    /* Says on the screen which channel lights; may be NULL. */
    void (*tell)(const struct tc_rig *rig, size_t channel, double level);
};

/* Lights faster after each other than this would be flashes. */
#define HOOKUP_LEAST_S 0.5

/* TC_OK at the end or when the user had enough, TC_ERR_STOPPED by a signal,
 * TC_ERR_WRITE without a network, TC_ERR_USAGE where keys are needed and there
 * are none. All lamps are dark in any case. */
enum tc_status hookup_run(const struct hookup_job *job, const struct tc_rig *rig, struct tc_problem *why);

#endif
