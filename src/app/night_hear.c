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

enum { RATE_LEAST = 8000, RATE_MOST = 48000, UNDER_LEAST_MS = 1000 };
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

static struct night_recording *recording_at(struct night_outcome *out, size_t item)
{
    return item < out->recording_count ? &out->recordings[item] : &out->under;
}

/* All that is to be heard: the recordings, and behind them the track beneath. */
static size_t count_items(const struct night_outcome *out)
{
    return out->recording_count + (out->under.file != NULL);
}

/* The evening's sample rate: the highest of its recordings, within reason. All
 * is measured at that rate, as it will sound. */
static void choose_rate(struct night_outcome *out)
{
    out->rate = RATE_LEAST;
    for (size_t i = 0; i < count_items(out); i++) {
        struct source *source;
        if (source_open(&source, recording_at(out, i)->path, NULL) != TC_OK) continue;
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
    struct night_recording *r = recording_at(h->out, item);
    progress_silence(true);
    r->status = stop_asked() ? TC_ERR_STOPPED : listen(h, r);
    progress_silence(false);
}

static void done(void *user, size_t item)
{
    struct hearing_all *h = user;
    char text[80];
    (void)item;
    snprintf(text, sizeof text, "listening: %zu of %zu recordings", ++h->done, count_items(h->out));
    progress_show(text);
}

static enum tc_status take_under(const struct night_job *job, struct night_outcome *out, struct tc_problem *why)
{
    const char *slash = strrchr(job->under, '/');
    out->under.path = strdup(job->under);
    out->under.file = strdup(slash ? slash + 1 : job->under);
    return out->under.path && out->under.file ? TC_OK : no_memory(why);
}

static enum tc_status set_under(const struct night_job *job, struct night_outcome *out, struct tc_problem *why)
{
    struct night_recording *u = &out->under;
    char plain[300];
    if (u->status != TC_OK) return problem_set(why, u->status, "--under: %s", u->note.text);
    text_plain(plain, sizeof plain, job->under);
    if (!isfinite(u->lufs)) return problem_set(why, TC_ERR_READ, "--under: %s is silent: nothing of it is above -70 LUFS", plain);
    if (!job->under_once && u->heard.length_ms < UNDER_LEAST_MS)
        return problem_set(why, TC_ERR_USAGE, "--under: %s is %.3f s long, too short to be repeated; --under-once plays it once",
                           plain, (double)u->heard.length_ms / 1000);
    u->gain_db = fmin((double)(job->lufs + job->under_level) - u->lufs, GAIN_MOST_DB);
    return TC_OK;
}

enum tc_status night_hear(const struct night_job *job, const struct tc_settings *s, struct night_outcome *out,
                          struct tc_problem *why)
{
    enum tc_status status = find(job, out, why);
    if (status != TC_OK) return status;
    if (job->under) status = take_under(job, out, why);
    if (status != TC_OK) return status;
    choose_rate(out);
    struct hearing_all h = { .job = job, .settings = s, .out = out };
    pool_run(job->jobs, count_items(out), &(struct pool_task){ &h, work, done, NULL });
    progress_clear();
    if (stop_asked()) return problem_set(why, TC_ERR_STOPPED, "stopped");
    for (size_t i = 0; i < out->recording_count; i++) {
        struct night_recording *r = &out->recordings[i];
        if (r->status == TC_ERR_MEMORY) return no_memory(why);
        out->left_out += r->status != TC_OK;
    }
    if (job->under) status = set_under(job, out, why);
    if (status != TC_OK || out->left_out < out->recording_count) return status;
    return problem_set(why, TC_ERR_READ, "none of the recordings can be heard: %s", out->recordings[0].note.text);
}
