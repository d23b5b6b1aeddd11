/* One recording to cue: what to do, and what came of it. */
#ifndef TC_JOB_H
#define TC_JOB_H

#include "io/files/inputs.h"
#include "io/files/ledger.h"
#include "words/model.h"

/* What to do. Strings are borrowed. */
struct job {
    const char *recording;    /* path, "-", or NULL to cue from events alone */
    const char *events;       /* an edited events file, or NULL */
    const char *stem;         /* of the outputs' names; NULL: the recording's */
    const char *out_dir;
    const char *json;         /* also write the report for machines; NULL = no */
    const char *rig_path;     /* as the user gave it, for the report; NULL = built in */
    const struct inputs *inputs; /* files that no output may replace; NULL = none */
    enum ledger_over over;       /* what may be overwritten */
    bool preview;
};

/* The files of a run, and what is told of each. */
enum { RUN_EVENTS, RUN_RAMPS, RUN_FRAMES, RUN_PAGE, RUN_FILES };
struct run_file {
    const char *ending;      /* after the stem */
    const char *name;        /* in the report for machines */
    const char *about;       /* in the manual; source of a man page */
};
const struct run_file *run_file(int which);

/* What came of it: all that the report tells. */
struct outcome {
    char stem[512];                 /* of the recording, without folder and ending */
    char *paths[RUN_FILES];      /* written files; NULL where none */
    struct tc_problem remark;       /* about the recording; empty if all was well */
    int64_t length_ms;
    double sample_rate;
    int channels;
    size_t cracks, rumbles, strokes, restrikes_heard, restrikes_drawn, glimmers, dropped;
    size_t soft_rumbles;            /* rumbles without any light of their own */
    size_t far_cracks;              /* cracks so dull that they light floods alone */
    size_t cracks_held_back;        /* cracks whose first stroke gets less than half its light; not in `strokes` */
    uint32_t frames;
    struct flash_report flash;
    struct load_report load;
    int64_t brightest_at_ms;
    double brightest;               /* summed light, all-on = 1 */
    size_t never_lit;               /* channels that never light */
    char never_lit_list[128];       /* their numbers, "3-5, 9"; cut with "..." */
    double listen_seconds, cue_seconds, write_seconds; /* wall clock; never written to files */
};

/* Frees what the outcome holds and zeroes it. */
void outcome_clear(struct outcome *o);

#endif
