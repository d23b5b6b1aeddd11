/* The first of the three plain steps: samples in, analysis out. L3: it joins
 * the stages analyse, detect and envelope. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "analyse.h"
#include "detect.h"
#include "envelope.h"
#include "progress.h"
#include "source.h"
#include "status.h"
#include "text.h"

struct tc_listener {
    struct analyser *analyser;
    struct detector *detector;
    struct envelope *envelope;
    double rate, sensitivity;
    int channels;
};

enum tc_status tc_listener_create(struct tc_listener **out, const struct tc_settings *s,
                                  double rate, int channels)
{
    *out = NULL;
    enum tc_status status = tc_settings_check(s, NULL);
    if (status != TC_OK) return status;
    struct tc_listener *l = calloc(1, sizeof *l);
    if (!l) return TC_ERR_MEMORY;
    l->rate = rate;
    l->channels = channels;
    l->sensitivity = s->sensitivity;
    status = analyser_create(&l->analyser, rate, channels);
    if (status == TC_OK) status = detector_create(&l->detector);
    if (status == TC_OK) status = envelope_create(&l->envelope, s->frame_rate);
    if (status != TC_OK) {
        tc_listener_destroy(l);
        return status;
    }
    *out = l;
    return TC_OK;
}

static enum tc_status take(struct tc_listener *l, const struct hearing *h)
{
    enum tc_status status = detector_step(l->detector, h);
    return status == TC_OK ? envelope_step(l->envelope, h) : status;
}

enum tc_status tc_listener_push(struct tc_listener *l, const float *samples, size_t frames)
{
    struct span in = { samples, frames };
    struct hearing h;
    enum tc_status status = TC_OK;
    while (status == TC_OK && analyser_step(l->analyser, &in, &h)) status = take(l, &h);
    return status;
}

enum tc_status tc_listener_finish(struct tc_listener *l, struct tc_analysis *out)
{
    struct hearing h;
    enum tc_status status = TC_OK;
    memset(out, 0, sizeof *out);
    while (status == TC_OK && analyser_flush(l->analyser, &h)) status = take(l, &h);
    out->length_ms = (int64_t)ceil((double)analyser_taken(l->analyser) * 1000.0 / l->rate);
    out->sample_rate = l->rate;
    out->channels = l->channels;
    out->bad_samples = analyser_bad_samples(l->analyser);
    if (status == TC_OK) status = detector_finish(l->detector, out->length_ms, out);
    if (status == TC_OK) status = envelope_finish(l->envelope, out);
    if (status == TC_OK) status = tc_analysis_choose(out, l->sensitivity);
    if (status != TC_OK) tc_analysis_clear(out);
    return status;
}

void tc_listener_destroy(struct tc_listener *l)
{
    if (!l) return;
    analyser_destroy(l->analyser);
    detector_destroy(l->detector);
    envelope_destroy(l->envelope);
    free(l);
}

/* ---- A whole file ---- */

static void show_progress(const struct source *s, int64_t done, double rate)
{
    int64_t all = source_frames(s);
    char text[80];
    if (all > 0) snprintf(text, sizeof text, "listening: %3d %%", (int)(100 * done / all));
    else snprintf(text, sizeof text, "listening: %.0f s", (double)done / rate);
    progress_show(text);
}

enum tc_status tc_listen_file(const char *path, const struct tc_settings *s,
                              struct tc_analysis *out, struct tc_problem *remark,
                              struct tc_problem *why)
{
    memset(out, 0, sizeof *out);
    struct source *source = NULL;
    struct tc_listener *l = NULL;
    float *block = NULL;
    enum tc_status status = source_open(&source, path, why);
    if (status != TC_OK) return status;

    int channels = source_channels(source);
    double rate = source_rate(source);
    status = tc_listener_create(&l, s, rate, channels);
    if (status == TC_OK && !(block = calloc(SOURCE_BLOCK * (size_t)channels, sizeof *block)))
        status = TC_ERR_MEMORY;

    int64_t done = 0;
    for (size_t n; status == TC_OK && (n = source_read(source, block, SOURCE_BLOCK)) > 0;) {
        status = tc_listener_push(l, block, n);
        done += (int64_t)n;
        show_progress(source, done, rate);
        if (status == TC_OK && stop_asked()) status = TC_ERR_STOPPED;
    }
    progress_clear();
    if (status == TC_OK && done == 0) {
        char plain[512];
        status = problem_set(why, TC_ERR_READ, "%s: there is no sound in it",
                             text_plain(plain, sizeof plain, path));
    } else if (status == TC_OK) {
        status = tc_listener_finish(l, out);
        out->bad_samples = source_bad_samples(source);
        if (remark) source_remark(source, remark);
    }
    if (status != TC_OK && status != TC_ERR_READ)
        problem_set(why, status, "%s", tc_status_text(status));
    free(block);
    tc_listener_destroy(l);
    source_close(source);
    return status;
}
