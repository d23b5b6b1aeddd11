#include "app/night/night_hear.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/night/night_events.h"
#include "app/night/night_listen.h"
#include "app/night/night_memory.h"
#include "app/night/night_pack.h"
#include "io/files/digest.h"
#include "io/process/child.h"
#include "io/process/pool.h"
#include "io/process/progress.h"
#include "io/process/stop.h"
#include "words/status.h"
#include "words/text.h"

enum { RATE_LEAST = 8000, RATE_MOST = 48000, UNDER_LEAST_MS = 1000 };
/* Peaks stay this far under full scale: lossy players and converters overshoot. */
#define PEAK_MOST_DB (-1.0)
/* Silence with a little noise is not to become loud noise. */
#define GAIN_MOST_DB 30.0

/* What the two rounds over all recordings share. */
struct round {
    const struct night_job *job;
    const struct tc_settings *settings;
    struct night_outcome *out;
    struct night_memory *memory;
    uint64_t ground;
    struct mark {
        uint64_t content;      /* digest of all its bytes */
        char *bytes;           /* freshly heard */
        size_t size;
        bool known;            /* the digest could be taken */
    } *marks;                  /* by item */
    atomic_int children;
    size_t done;
};

static struct night_recording *recording_at(struct night_outcome *out, size_t item)
{
    return item < out->recording_count ? &out->recordings[item] : &out->under;
}

/* All that is to be heard: the recordings, and behind them the track beneath. */
static size_t count_items(const struct night_outcome *out)
{
    return out->recording_count + (out->under.file != NULL);
}

/* ---- First round: what is known already, and all sample rates ---- */

static void look(void *user, size_t item)
{
    struct round *round = user;
    struct night_recording *r = recording_at(round->out, item);
    struct mark *m = &round->marks[item];
    size_t size;
    if (stop_asked()) return;
    m->known = digest_file(&m->content, r->path, stop_asked);
    const char *bytes = m->known ? night_memory_any(round->memory, m->content, &size) : NULL;
    if (bytes) r->rate = night_pack_rate(bytes, size);
    if (!(r->rate > 0)) night_look(r, &round->children);
}

static void looked(void *user, size_t item)
{
    (void)user, (void)item;
    progress_show("looking at the recordings");
}

/* The evening's sample rate: the highest of its recordings, within reason. All
 * is measured at that rate, as it will sound. */
static void choose_rate(struct night_outcome *out)
{
    out->rate = RATE_LEAST;
    for (size_t i = 0; i < count_items(out); i++) {
        const struct night_recording *r = recording_at(out, i);
        if (r->status == TC_OK && r->rate > out->rate) out->rate = r->rate < RATE_MOST ? (int)r->rate : RATE_MOST;
    }
}

/* ---- Second round: hearing ---- */

static void hear(void *user, size_t item)
{
    struct round *round = user;
    struct night_recording *r = recording_at(round->out, item);
    struct mark *m = &round->marks[item];
    size_t size;
    if (r->status != TC_OK) return;
    const char *bytes = m->known ? night_memory_find(round->memory, m->content, round->ground, &size) : NULL;
    if (stop_asked()) r->status = TC_ERR_STOPPED;
    else if (!bytes || night_unpack(r, bytes, size) != TC_OK)
        night_listen(r, round->settings, round->out->rate, &round->children, &m->bytes, &m->size);
}

static void heard(void *user, size_t item)
{
    struct round *round = user;
    char text[80];
    (void)item;
    snprintf(text, sizeof text, "listening: %zu of %zu recordings", ++round->done, count_items(round->out));
    progress_show(text);
}

/* Once nobody looks anything up any more: the memory moves as it grows. */
static void remember(struct round *round)
{
    for (size_t i = 0; i < count_items(round->out); i++) {
        struct mark *m = &round->marks[i];
        if (m->known) night_memory_add(round->memory, m->content, round->ground, m->bytes, m->size);
        else free(m->bytes);
        m->bytes = NULL;
    }
    night_memory_write(round->memory);
}

/* ---- What follows from what was heard ---- */

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

static enum tc_status set_under(const struct night_job *job, struct night_outcome *out, struct tc_problem *why)
{
    struct night_recording *u = &out->under;
    char plain[300];
    if (u->status != TC_OK) return problem_set(why, u->status, "--under: %s", u->note.text);
    text_plain(plain, sizeof plain, job->under);
    if (!isfinite(u->lufs))
        return problem_set(why, TC_ERR_READ, "--under: %s is silent: nothing of it is above -70 LUFS", plain);
    if (!job->under_once && u->heard.length_ms < UNDER_LEAST_MS)
        return problem_set(why, TC_ERR_USAGE,
                           "--under: %s is %.3f s long, too short to be repeated; --under-once plays it once",
                           plain, (double)u->heard.length_ms / 1000);
    u->gain_db = fmin((double)(job->lufs + job->under_level) - u->lufs, GAIN_MOST_DB);
    return TC_OK;
}

static enum tc_status sum_up(const struct night_job *job, struct night_outcome *out, struct tc_problem *why)
{
    size_t first = out->recording_count;
    for (size_t i = 0; i < out->recording_count; i++) {
        struct night_recording *r = &out->recordings[i];
        if (r->status == TC_OK) set_gain(r, (double)job->lufs);
        else if (!out->left_out++) first = i;
    }
    if (job->under) {
        enum tc_status status = set_under(job, out, why);
        if (status != TC_OK) return status;
    }
    if (out->left_out < out->recording_count) return TC_OK;
    return problem_set(why, TC_ERR_READ, "none of the recordings can be heard: %s", out->recordings[first].note.text);
}

static size_t workers(const struct night_job *job)
{
    size_t room = child_room();
    return job->jobs < room ? job->jobs : room;
}

static enum tc_status hear_all(struct round *round, struct tc_problem *why)
{
    struct night_outcome *out = round->out;
    size_t count = count_items(out), jobs = workers(round->job);
    pool_run(jobs, count, &(struct pool_task){ round, look, looked, NULL });
    choose_rate(out);
    round->ground = night_memory_ground(round->settings, out->rate);
    pool_run(jobs, count, &(struct pool_task){ round, hear, heard, NULL });
    progress_clear();
    remember(round);
    return stop_asked() ? problem_say(why, TC_ERR_STOPPED) : TC_OK;
}

enum tc_status night_hear(const struct night_job *job, const struct tc_rig *rig, const struct tc_settings *s,
                          struct night_outcome *out, struct tc_problem *why)
{
    struct round round = { .job = job, .settings = s, .out = out };
    round.marks = calloc(count_items(out) + 1, sizeof *round.marks);
    enum tc_status status = round.marks ? night_memory_open(&round.memory, out->folder) : TC_ERR_MEMORY;
    status = status == TC_OK ? hear_all(&round, why) : problem_say(why, TC_ERR_MEMORY);
    if (status == TC_OK) status = sum_up(job, out, why);
    if (status == TC_OK) status = night_events_take(job, rig, out, why);
    night_memory_close(round.memory);
    free(round.marks);
    return status;
}
