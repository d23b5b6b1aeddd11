#include "app/night/night_listen.h"

#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <unistd.h>

#include "app/clip/listen_file.h"
#include "app/night/night_pack.h"
#include "io/process/child.h"
#include "io/process/progress.h"
#include "io/process/stop.h"
#include "io/sound/loudness.h"
#include "io/sound/stereo.h"
#include "words/memory.h"
#include "words/status.h"

/* What a process leaves behind; what was heard goes into a file. */
struct answer {
    enum tc_status status;
    struct tc_problem note;
    double rate;
};
_Static_assert(sizeof(struct answer) <= CHILD_ANSWER_MOST, "an answer must fit into a pipe");

struct errand {
    struct night_recording *recording;
    const struct tc_settings *settings;
    int rate, to;
};

/* ---- In the process ---- */

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

static enum tc_status hear(struct night_recording *r, const struct tc_settings *s, int rate)
{
    struct source *source = NULL;
    struct measuring m = { 0 };
    enum tc_status status = source_open(&source, r->path, &r->note);
    if (status != TC_OK) return status;
    r->rate = source_rate(source);
    status = loudness_create(&m.loudness, rate, true);
    if (status == TC_OK)
        status = stereo_create(&m.stereo, source_channels(source), r->rate, rate, measure_pair, m.loudness);
    struct listen_tap tap = { measure, &m };
    if (status == TC_OK) status = listen_source(source, s, &tap, &r->heard, &r->note, &r->note);
    if (status == TC_OK) status = stereo_finish(m.stereo);
    if (status == TC_OK) {
        memory_free(r->heard.overview); /* for a page; here it would only take room */
        r->heard.overview = NULL;
        r->frames = m.frames;
        r->lufs = loudness_lufs(m.loudness);
        r->peak_db = loudness_peak_db(m.loudness);
    }
    stereo_destroy(m.stereo);
    loudness_destroy(m.loudness);
    source_close(source);
    return status;
}

static enum tc_status leave(const struct night_recording *r, int to)
{
    char *bytes;
    size_t size, done = 0;
    enum tc_status status = night_pack(r, &bytes, &size);
    while (status == TC_OK && done < size) {
        ssize_t n = write(to, bytes + done, size - done);
        if (n <= 0) status = TC_ERR_WRITE;
        else done += (size_t)n;
    }
    free(bytes);
    return status;
}

static void run_hear(void *user, void *to)
{
    struct errand *e = user;
    struct answer *a = to;
    struct night_recording own = { .path = e->recording->path };
    progress_silence(true);
    a->status = hear(&own, e->settings, e->rate);
    progress_silence(false);
    if (a->status == TC_OK) a->status = leave(&own, e->to);
    if (a->status != TC_OK && !*own.note.text)
        problem_set(&own.note, a->status, "%s: %s", own.path, tc_status_text(a->status));
    a->note = own.note;
    tc_analysis_clear(&own.heard);
}

static void run_look(void *user, void *to)
{
    struct errand *e = user;
    struct answer *a = to;
    struct source *source = NULL;
    a->status = source_open(&source, e->recording->path, &a->note);
    if (a->status == TC_OK) a->rate = source_rate(source);
    source_close(source);
}

/* ---- On this side ---- */

/* Takes status and note over; true if the process left something. */
static bool run_apart(struct night_recording *r, void (*task)(void *user, void *answer), struct errand *e,
                      struct answer *a,
                      atomic_int *children)
{
    int how;
    memset(a, 0, sizeof *a);
    enum child_end end = child_run(task, e, a, sizeof *a, e->to, children, &how);
    if (end != CHILD_ANSWERED) {
        *a = (struct answer){ .status = stop_asked() ? TC_ERR_STOPPED : TC_ERR_READ };
        child_say(end, how, r->path, "hearing", "recordings", &a->note);
    }
    r->status = a->status;
    r->note = a->note;
    return a->status == TC_OK;
}

void night_look(struct night_recording *r, atomic_int *children)
{
    struct answer a;
    if (run_apart(r, run_look, &(struct errand){ .recording = r, .to = -1 }, &a, children)) r->rate = a.rate;
}

/* All that lies in a file, from its start; NULL out of memory or where it can't be read. */
static char *take_back(int file, size_t *size)
{
    off_t end = lseek(file, 0, SEEK_END);
    char *bytes = end > 0 ? malloc((size_t)end) : NULL;
    *size = bytes ? (size_t)end : 0;
    if (bytes && pread(file, bytes, *size, 0) == (ssize_t)*size) return bytes;
    free(bytes);
    return NULL;
}

void night_listen(struct night_recording *r, const struct tc_settings *s, int rate, atomic_int *children, char **bytes,
                  size_t *size)
{
    struct answer a;
    int file = memfd_create("heard", MFD_CLOEXEC); /* in memory: a full disk is no reason not to hear */
    *bytes = NULL;
    if (file < 0) {
        r->status = problem_set(&r->note, TC_ERR_MEMORY, "%s: %s", r->path, tc_status_text(TC_ERR_MEMORY));
        return;
    }
    if (run_apart(r, run_hear, &(struct errand){ r, s, rate, file }, &a, children)) {
        *bytes = take_back(file, size);
        r->status = *bytes ? night_unpack(r, *bytes, *size) : TC_ERR_MEMORY;
        if (r->status != TC_OK) problem_set(&r->note, r->status, "%s: %s", r->path, tc_status_text(r->status));
    }
    close(file);
}
