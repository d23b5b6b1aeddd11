#include "app/night_hear.h"

#include <dirent.h>
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "app/listen_file.h"
#include "io/folder.h"
#include "io/loudness.h"
#include "io/pool.h"
#include "io/progress.h"
#include "io/sound_kind.h"
#include "io/stereo.h"
#include "io/stop.h"
#include "words/memory.h"
#include "words/status.h"
#include "words/text.h"
#include "words/units.h"

enum { RATE_LEAST = 8000, RATE_MOST = 48000 };
/* Peaks stay this far under full scale: lossy players and converters overshoot. */
#define PEAK_MOST_DB (-1.0)
/* Silence with a little noise is not to become loud noise. */
#define GAIN_MOST_DB 30.0

static enum tc_status no_memory(struct tc_problem *why)
{
    return problem_set(why, TC_ERR_MEMORY, "%s", tc_status_text(TC_ERR_MEMORY));
}

/* ---- Finding ---- */

/* Sound that thundercue made has its running order beside it. */
static bool is_evening(const char *path)
{
    const char *dot = strrchr(path, '.');
    struct stat st;
    char order[4096];
    snprintf(order, sizeof order, "%.*s.night.csv", (int)(dot ? dot - path : (long)strlen(path)), path);
    return !stat(order, &st);
}

static bool is_recording(const char *path)
{
    struct stat st;
    return !stat(path, &st) && S_ISREG(st.st_mode) && sound_looks_like(path) && !is_evening(path);
}

static enum tc_status add(struct night_outcome *out, const char *folder, const char *file)
{
    struct night_recording *r = &out->recordings[out->recording_count];
    if (!(r->path = folder_join(folder, file))) return TC_ERR_MEMORY;
    if (!is_recording(r->path)) {
        free(r->path);
        *r = (struct night_recording){ 0 };
        return TC_OK;
    }
    r->file = strdup(file);
    out->recording_count++;
    return r->file ? TC_OK : TC_ERR_MEMORY;
}

static enum tc_status find(const struct night_job *job, struct night_outcome *out, struct tc_problem *why)
{
    struct dirent **entries;
    char plain[300];
    text_plain(plain, sizeof plain, job->folder);
    int count = scandir(job->folder, &entries, NULL, alphasort);
    if (count < 0) return problem_set(why, TC_ERR_READ, "%s: the folder can't be read: %s", plain, strerror(errno));
    out->recordings = calloc((size_t)count + 1, sizeof *out->recordings);
    enum tc_status status = out->recordings ? TC_OK : TC_ERR_MEMORY;
    for (int i = 0; i < count; i++) {
        if (status == TC_OK && entries[i]->d_name[0] != '.') status = add(out, job->folder, entries[i]->d_name);
        free(entries[i]);
    }
    free(entries);
    if (status != TC_OK) return no_memory(why);
    for (size_t i = 0; i < out->recording_count && status == TC_OK; i++)
        status = inputs_add(job->inputs, out->recordings[i].path, why);
    if (status == TC_OK && !out->recording_count)
        return problem_set(why, TC_ERR_READ, "%s: there are no recordings in this folder", plain);
    return status;
}

/* The evening's sample rate: the highest of its recordings, within reason. All
 * is measured at that rate, as it will sound. */
static void choose_rate(struct night_outcome *out)
{
    out->rate = RATE_LEAST;
    for (size_t i = 0; i < out->recording_count; i++) {
        struct source *source;
        if (source_open(&source, out->recordings[i].path, NULL) != TC_OK) continue;
        if (source_rate(source) > out->rate) out->rate = (int)source_rate(source);
        source_close(source);
    }
    if (out->rate > RATE_MOST) out->rate = RATE_MOST;
}

/* ---- Hearing ---- */

struct hearing_all {
    const struct night_job *job;
    const struct tc_settings *settings;
    struct night_outcome *out;
    size_t done;
};

struct measuring {
    struct loudness *loudness;
    struct stereo *stereo;
    int64_t frames;
};

static enum tc_status measure_pair(void *to, float *pair, size_t frames)
{
    return loudness_push(to, pair, frames);
}

static enum tc_status measure(void *to, const float *samples, size_t frames)
{
    struct measuring *m = to;
    m->frames += (int64_t)frames;
    return stereo_push(m->stereo, samples, frames);
}

int night_nearness(const struct tc_analysis *heard)
{
    double most = 0;
    for (size_t i = 0; i < heard->event_count; i++) {
        const struct tc_event *e = &heard->events[i];
        if (e->kind == TC_CRACK) most = fmax(most, (double)(e->sharpness * e->strength));
    }
    return (int)floor(100 * most + 0.5);
}

static void set_gain(struct night_recording *r, double wish_lufs)
{
    double room = isfinite(r->peak_db) ? PEAK_MOST_DB - r->peak_db : 0;
    double gain = isfinite(r->lufs) ? wish_lufs - r->lufs : 0;
    r->gain_most_db = floor(10 * fmin(room, GAIN_MOST_DB) + 1e-6) / 10;
    r->gain_db = fmin(floor(10 * gain + 0.5) / 10, r->gain_most_db);
}

static enum tc_status listen(const struct hearing_all *h, struct night_recording *r)
{
    struct source *source = NULL;
    struct measuring m = { 0 };
    enum tc_status status = source_open(&source, r->path, &r->note);
    if (status != TC_OK) return status;
    r->rate = source_rate(source);
    status = loudness_create(&m.loudness, h->out->rate, true);
    if (status == TC_OK)
        status = stereo_create(&m.stereo, source_channels(source), r->rate, h->out->rate, measure_pair, m.loudness);
    struct listen_tap tap = { measure, &m };
    if (status == TC_OK) status = listen_source(source, h->settings, &tap, &r->heard, &r->note, &r->note);
    if (status == TC_OK) status = stereo_finish(m.stereo);
    if (status == TC_OK) {
        memory_free(r->heard.overview); /* for a page; here it would only take room */
        r->heard.overview = NULL;
        r->frames = m.frames;
        r->lufs = loudness_lufs(m.loudness);
        r->peak_db = loudness_peak_db(m.loudness);
        set_gain(r, (double)h->job->lufs);
    }
    stereo_destroy(m.stereo);
    loudness_destroy(m.loudness);
    source_close(source);
    return status;
}

static void work(void *user, size_t item)
{
    struct hearing_all *h = user;
    struct night_recording *r = &h->out->recordings[item];
    progress_silence(true);
    r->status = stop_asked() ? TC_ERR_STOPPED : listen(h, r);
    progress_silence(false);
}

static void done(void *user, size_t item)
{
    struct hearing_all *h = user;
    char text[80];
    (void)item;
    snprintf(text, sizeof text, "listening: %zu of %zu recordings", ++h->done, h->out->recording_count);
    progress_show(text);
}

enum tc_status night_hear(const struct night_job *job, const struct tc_settings *s, struct night_outcome *out,
                          struct tc_problem *why)
{
    enum tc_status status = find(job, out, why);
    if (status != TC_OK) return status;
    choose_rate(out);
    struct hearing_all h = { .job = job, .settings = s, .out = out };
    pool_run(job->jobs, out->recording_count, &(struct pool_task){ &h, work, done, NULL });
    progress_clear();
    if (stop_asked()) return problem_set(why, TC_ERR_STOPPED, "stopped");
    for (size_t i = 0; i < out->recording_count; i++) {
        struct night_recording *r = &out->recordings[i];
        if (r->status == TC_ERR_MEMORY) return no_memory(why);
        out->left_out += r->status != TC_OK;
    }
    if (out->left_out < out->recording_count) return TC_OK;
    return problem_set(why, TC_ERR_READ, "none of the recordings can be heard: %s", out->recordings[0].note.text);
}

/* ---- Joining ---- */

static void join_events(struct tc_analysis *all, const struct tc_analysis *one, const struct night_turn *t)
{
    for (size_t i = 0; i < one->event_count; i++) {
        struct tc_event e = one->events[i];
        e.start_ms += t->start_ms;
        e.end_ms += t->start_ms;
        e.peak_ms += t->start_ms;
        if (e.start_ms >= t->end_ms) continue;
        if (e.end_ms > t->end_ms) e.end_ms = t->end_ms;
        if (e.peak_ms > t->end_ms) e.peak_ms = t->end_ms;
        e.level_dbfs += (float)t->gain_db;
        all->events[all->event_count++] = e;
    }
    for (size_t i = 0; i < one->candidate_count; i++) {
        struct tc_candidate c = one->candidates[i];
        c.at_ms += t->start_ms;
        if (c.at_ms >= t->end_ms) continue;
        c.level_dbfs += (float)t->gain_db;
        all->candidates[all->candidate_count++] = c;
    }
}

/* Levels are in half decibels; silence stays silence. */
static void join_envelope(struct tc_analysis *all, const struct tc_analysis *one, const struct night_turn *t)
{
    size_t from = (size_t)frame_at(t->start_ms, all->frame_rate), to = (size_t)frame_at(t->end_ms, all->frame_rate);
    int more = (int)floor(2 * t->gain_db + 0.5);
    for (size_t f = 0; f < one->envelope_count && from + f <= to && from + f < all->envelope_count; f++) {
        int level = one->envelope[f] ? one->envelope[f] + more : 0;
        all->envelope[from + f] = (uint8_t)(level < 0 ? 0 : level > 255 ? 255 : level);
    }
}

enum tc_status night_join(const struct night_outcome *o, const struct tc_settings *s, double rate, struct tc_analysis *all)
{
    size_t events = 0, candidates = 0;
    for (size_t i = 0; i < o->plan.count; i++) {
        const struct tc_analysis *one = &o->recordings[o->plan.turns[i].clip].heard;
        events += one->event_count;
        candidates += one->candidate_count;
    }
    int64_t length = night_plan_end(&o->plan);
    *all = (struct tc_analysis){ .length_ms = length, .sample_rate = rate, .channels = 2, .frame_rate = s->frame_rate,
                                 .sensitivity = s->sensitivity,
                                 .envelope_count = (size_t)(length * s->frame_rate / 1000 + 1) };
    all->events = memory_new(events + 1, sizeof *all->events);
    all->candidates = memory_new(candidates + 1, sizeof *all->candidates);
    all->envelope = memory_new(all->envelope_count, 1);
    if (!all->events || !all->candidates || !all->envelope) {
        tc_analysis_clear(all);
        return TC_ERR_MEMORY;
    }
    for (size_t i = 0; i < o->plan.count; i++) {
        const struct tc_analysis *one = &o->recordings[o->plan.turns[i].clip].heard;
        join_events(all, one, &o->plan.turns[i]);
        join_envelope(all, one, &o->plan.turns[i]);
        all->bad_samples += one->bad_samples;
    }
    return TC_OK;
}
