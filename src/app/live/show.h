/* The story of a live show: what is played, with what sound, and how it goes
 * out until it ends in black. Reads top to bottom. */
#ifndef TC_SHOW_H
#define TC_SHOW_H

#include "app/live/show_job.h"
#include "words/model.h"

/* What a show came to. */
struct show_outcome {
    uint64_t packets, failed;
    uint64_t frames, late;   /* light frames sent, and those more than LATE_S late */
    double latest_s;
    int64_t shows;
    bool fell_silent;        /* its recording was taken away or replaced meanwhile */
    struct flash_report flash;
    bool refused;            /* it flashes faster than the limit */
};

#define LATE_S 0.005

/* TC_OK when it ended by itself, TC_ERR_STOPPED by a signal, TC_ERR_WRITE when
 * the sound card was lost or there is no network; and what reading gives. The
 * lamps are dark in any case. */
enum tc_status show_run(const struct show_job *job, const struct tc_rig *rig, const struct tc_settings *s,
                        struct show_outcome *out, struct tc_problem *why);

#endif
