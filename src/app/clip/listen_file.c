#include "app/clip/listen_file.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "io/process/progress.h"
#include "io/process/stop.h"
#include "words/status.h"

static void show_progress(const struct source *s, int64_t done, double rate)
{
    int64_t all = source_frames(s);
    char text[80];
    if (all > 0) snprintf(text, sizeof text, "listening: %3d %%", (int)(100 * done / all));
    else snprintf(text, sizeof text, "listening: %.0f s", (double)done / rate);
    progress_show(text);
}

enum tc_status listen_source(struct source *source, const struct tc_settings *s, const struct listen_tap *tap,
                             struct tc_analysis *out, struct tc_problem *remark, struct tc_problem *why)
{
    memset(out, 0, sizeof *out);
    struct tc_listener *l = NULL;
    float *block = NULL;
    int channels = source_channels(source);
    double rate = source_rate(source);
    enum tc_status status = tc_listener_create(&l, s, rate, channels);
    if (status == TC_OK && !(block = calloc(SOURCE_BLOCK * (size_t)channels, sizeof *block)))
        status = TC_ERR_MEMORY;

    int64_t done = 0;
    for (size_t n; status == TC_OK && (n = source_read(source, block, SOURCE_BLOCK)) > 0;) {
        status = tc_listener_push(l, block, n);
        if (status == TC_OK && tap) status = tap->take(tap->to, block, n);
        done += (int64_t)n;
        show_progress(source, done, rate);
        if (status == TC_OK && stop_asked()) status = TC_ERR_STOPPED;
    }
    progress_clear();
    if (status == TC_OK && done == 0) {
        status = problem_set(why, TC_ERR_READ, "%s: there is no sound in it", source_name(source));
    } else if (status == TC_OK) {
        status = tc_listener_finish(l, out);
        out->bad_samples = source_bad_samples(source);
        if (remark) source_remark(source, remark);
    }
    if (status != TC_OK && status != TC_ERR_READ)
        problem_say(why, status);
    free(block);
    tc_listener_destroy(l);
    return status;
}

enum tc_status listen_file(const char *path, const struct tc_settings *s, struct tc_analysis *out,
                           struct tc_problem *remark, struct tc_problem *why)
{
    struct source *source;
    memset(out, 0, sizeof *out);
    enum tc_status status = source_open(&source, path, why);
    if (status == TC_OK) status = listen_source(source, s, NULL, out, remark, why);
    source_close(source);
    return status;
}
