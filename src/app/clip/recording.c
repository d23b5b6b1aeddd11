#include "app/clip/recording.h"

#include <string.h>

#include "app/clip/run_hear.h"
#include "app/clip/run_names.h"
#include "app/clip/run_write.h"
#include "io/process/clock.h"

enum tc_status recording_run(const struct job *job, const struct tc_rig *rig,
                             const struct tc_settings *s, struct outcome *out,
                             struct tc_problem *why)
{
    memset(out, 0, sizeof *out);
    struct run r = { .job = job, .rig = rig, .settings = s, .out = out, .why = why };
    double start = clock_now_s();
    enum tc_status status = tc_settings_check(s, why);
    if (status == TC_OK) status = run_name_files(&r);
    if (status == TC_OK) status = run_hear(&r);
    double heard = clock_now_s();
    if (status == TC_OK) run_remark_older_page(&r);
    if (status == TC_OK) status = run_cue(&r);
    double cued = clock_now_s();
    if (status == TC_OK) status = run_write_files(&r);
    out->listen_seconds = heard - start;
    out->cue_seconds = cued - heard;
    out->write_seconds = clock_now_s() - cued;
    run_end(&r);
    return status;
}
