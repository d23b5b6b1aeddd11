/* A timeline played once, light frame by light frame, past all that write it,
 * count it and measure it: the one place that the program, the page and an
 * embedder's calls share, so that they make the same show. */
#ifndef TC_SHOWING_H
#define TC_SHOWING_H

#include "words/model.h"

/* What came of counting and measuring. Times are those of the files. */
struct shown {
    struct flash_report flash;
    struct load_report load;
    double brightest;            /* summed light, all-on = 1 */
    int64_t brightest_at_ms;
    bool *lit;                   /* by channel of the rig: it lights at some time */
};

/* What is played, and what is wanted of it: NULL where something is not. */
struct showing {
    const struct tc_timeline *timeline;
    const struct tc_rig *rig;
    const struct tc_settings *settings;
    const struct tc_watch *watch;
    const struct tc_sink *frames, *ramps;                       /* frames.csv, ramps.csv */
    enum tc_status (*ramp)(void *to, const struct ramp *ramp);  /* each ramp besides, in the order of ramps.csv */
    void *ramp_to;
    struct shown *shown;         /* a timeline that repeats is counted across its seam too */
    struct columns *columns;     /* only with `shown` */
};

/* TC_ERR_USAGE for settings out of their bounds or another frame rate than the
 * timeline's, TC_ERR_MEMORY, TC_ERR_STOPPED, or what a sink or `ramp` returned.
 * Clear *shown and *columns in any case. */
enum tc_status showing_run(const struct showing *s, struct tc_problem *why);

void shown_clear(struct shown *s);

#endif
