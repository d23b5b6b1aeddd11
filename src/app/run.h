/* What one run of the pipeline holds, for the files that tell its story:
 * pipeline.c, outputs.c and pictures.c. */
#ifndef TC_RUN_H
#define TC_RUN_H

#include "app/recording.h"

struct run {
    const struct job *job;
    const struct tc_rig *rig;
    const struct tc_settings *settings;
    struct outcome *out;
    struct tc_problem *why;
    struct tc_analysis heard;
    struct tc_timeline timeline;
};

#endif
