#include "app/batch/batch.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include "app/batch/batch_round.h"
#include "app/clip/recording.h"
#include "app/clip/report.h"
#include "io/files/folder.h"
#include "io/files/ledger.h"
#include "io/files/outfile.h"
#include "io/process/child.h"
#include "io/process/clock.h"
#include "io/process/pool.h"
#include "io/process/progress.h"
#include "io/process/stop.h"
#include "words/settings.h"
#include "words/status.h"
#include "words/text.h"

enum { SUMMARY_EACH_S = 2, LOCK_TRIES = 50, LOCK_PAUSE_US = 20000 };

enum tc_status round_no_memory(struct round *r)
{
    return problem_say(r->why, TC_ERR_MEMORY);
}

/* ---- The output folder ---- */

/* One run at a time in an output folder. The lock is on the folder itself, so
 * nothing is left when the process dies; where a disk knows no locks, whole
 * files still keep two runs from harming each other. */
static enum tc_status take_lock(struct round *r)
{
    char plain[512];
    r->lock = open(r->batch->out_dir, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    for (int i = 0; r->lock >= 0 && i < LOCK_TRIES && flock(r->lock, LOCK_EX | LOCK_NB) && errno == EWOULDBLOCK; i++)
        usleep(LOCK_PAUSE_US); /* workers of a run that was killed end a little later */
    if (r->lock < 0 || !flock(r->lock, LOCK_EX | LOCK_NB) || errno != EWOULDBLOCK) return TC_OK;
    return problem_set(r->why, TC_ERR_WRITE, "%s: another thundercue batch is at work there; wait for it",
                       text_plain(plain, sizeof plain, r->batch->out_dir));
}

/* Does something once for every folder that outputs go to. */
static void for_folders(struct round *r, void (*each)(const char *folder))
{
    char *last = NULL;
    each(r->batch->out_dir);
    for (size_t i = 0; i < r->count; i++) { /* clips of one folder lie together */
        char *folder = clip_out_folder(r, &r->clips[i]);
        if (folder && (!last || strcmp(folder, last)) && strcmp(folder, r->batch->out_dir)) each(folder);
        free(last);
        last = folder;
    }
    free(last);
}

static void sweep_one(const char *folder)
{
    outfile_sweep(folder);
}

static void sweep(struct round *r)
{
    for_folders(r, sweep_one);
}

static void tidy_one(const char *folder)
{
    if (!access(folder, W_OK)) ledger_tidy(folder);
}

static void tidy(struct round *r)
{
    for_folders(r, tidy_one);
}

/* ---- Second round ---- */

struct size {
    int64_t bytes;
    size_t clip;
};

static int largest_first(const void *left, const void *right)
{
    const struct size *a = left, *b = right;
    if (a->bytes != b->bytes) return a->bytes > b->bytes ? -1 : 1;
    return a->clip < b->clip ? -1 : 1;
}

/* Long clips first, so that no worker is left alone with one at the end. */
static enum tc_status plan_order(struct round *r)
{
    struct size *sizes = calloc(r->count + 1, sizeof *sizes);
    r->order = calloc(r->count + 1, sizeof *r->order);
    if (!sizes || !r->order) {
        free(sizes);
        return round_no_memory(r);
    }
    for (size_t i = 0; i < r->count; i++) {
        if (r->clips[i].state != CLIP_UNFINISHED) continue;
        sizes[r->order_count++] = (struct size){ r->clips[i].bytes, i };
        r->bytes += r->clips[i].bytes;
    }
    qsort(sizes, r->order_count, sizeof *sizes, largest_first);
    for (size_t i = 0; i < r->order_count; i++) r->order[i] = sizes[i].clip;
    free(sizes);
    return TC_OK;
}

static void take_figures(struct clip *c, const struct outcome *o)
{
    int64_t *f = c->result.figures;
    f[FIGURE_LENGTH] = o->length_ms;
    f[FIGURE_CRACKS] = (int64_t)o->cracks;
    f[FIGURE_RUMBLES] = (int64_t)o->rumbles;
    f[FIGURE_STROKES] = (int64_t)o->strokes;
    f[FIGURE_PEAK_FLASHES] = 5 * o->flash.peak_transitions; /* two transitions are a flash of 1.0 */
    f[FIGURE_PEAK_LOAD] = (int64_t)(10 * o->load.rig.reached_w + 0.5);
}

/* What is to be said of a clip that is done; NULL if nothing is. */
static char *say_outcome(const struct clip *c, const struct outcome *o, bool findings)
{
    struct tc_problem text;
    const char *first = c->events ? "cued from the edited events file beside the timelines"
                      : findings ? "load or flash rate over its limit: see the page" : "";
    const char *rest = o->remark.text;
    problem_set(&text, TC_OK, "%s%s%s", first, *first && *rest ? "; " : "", rest);
    return *text.text ? strdup(text.text) : NULL;
}

static void work_here(struct round *r, struct clip *c)
{
    struct tc_problem why = { "" };
    struct outcome outcome;
    char *folder = stop_asked() ? NULL : clip_out_folder(r, c);
    c->result = (struct result){ .state = CLIP_UNFINISHED, .status = stop_asked() ? TC_ERR_STOPPED : TC_ERR_MEMORY };
    if (folder) {
        struct job job = {
            .recording = c->path, .stem = c->name, .out_dir = folder, .rig_path = r->batch->rig_path,
            .events = c->events, .inputs = r->batch->inputs,
            .over = r->batch->discard_edits ? OVER_EDITS
                    : r->batch->force || c->own_only || c->events ? OVER_OURS : OVER_NOTHING,
            .preview = r->batch->preview,
        };
        progress_silence(true);
        c->result.status = recording_run(&job, r->rig, r->settings, &outcome, &why);
        progress_silence(false);
        if (c->result.status == TC_OK) {
            bool findings = report_findings(r->rig, &outcome);
            c->result.state = findings ? CLIP_FINDINGS : CLIP_DONE;
            take_figures(c, &outcome);
            c->result.message = say_outcome(c, &outcome, findings);
        }
        outcome_clear(&outcome);
    }
    free(folder);
    if (c->result.status == TC_OK || c->result.status == TC_ERR_STOPPED) return;
    c->result.state = c->result.status == TC_ERR_EXISTS ? CLIP_REFUSED : CLIP_FAILED;
    c->result.message = strdup(*why.text ? why.text : tc_status_text(c->result.status));
}

static void work(void *user, size_t item)
{
    struct round *r = user;
    struct clip *c = &r->clips[r->order[item]];
    if (stop_asked()) c->result = (struct result){ .state = CLIP_UNFINISHED, .status = TC_ERR_STOPPED };
    else clip_run_apart(r, c, work_here);
}

static void show_progress(void *user)
{
    struct round *r = user;
    double passed = clock_now_s() - r->begun;
    char text[160], pace[80] = "", failed[40] = "";
    if (r->bytes_finished > 0 && passed > 0) {
        double s = passed * (double)(r->bytes - r->bytes_finished) / (double)r->bytes_finished + 0.5;
        snprintf(pace, sizeof pace, ", %.0f s of sound a second, %d:%02d left",
                 (double)r->length_finished / 1000 / passed,
                 (int)(s / 60), (int)s % 60);
    }
    if (r->failed) snprintf(failed, sizeof failed, ", %zu failed", r->failed);
    snprintf(text, sizeof text, "%zu of %zu clips%s%s", r->finished, r->order_count, failed, pace);
    progress_show(text);
    struct tc_problem *why = r->why;
    r->why = NULL; /* the last summary is the one that must succeed */
    if (clock_now_s() - r->summary_at > SUMMARY_EACH_S) summary_write(r);
    r->why = why;
}

static void worked(void *user, size_t item)
{
    struct round *r = user;
    struct clip *c = &r->clips[r->order[item]];
    c->state = c->result.state;
    r->finished += c->state != CLIP_UNFINISHED;
    r->failed += c->state == CLIP_FAILED;
    r->bytes_finished += c->bytes;
    r->length_finished += c->result.figures[FIGURE_LENGTH];
    show_progress(r);
}

/* ---- The end ---- */

static void add_up(const struct round *r, struct batch_sum *sum)
{
    size_t *const counters[CLIP_STATES] = {
        [CLIP_UNFINISHED] = &sum->unfinished, [CLIP_DONE] = &sum->done, [CLIP_FINDINGS] = &sum->findings,
        [CLIP_FAILED] = &sum->failed, [CLIP_REFUSED] = &sum->refused, [CLIP_SKIPPED] = &sum->skipped,
        [CLIP_PASSED_OVER] = &sum->passed_over,
    };
    memset(sum, 0, sizeof *sum);
    for (size_t i = 0; i < r->count; i++) {
        const struct clip *c = &r->clips[i];
        ++*(c->kept ? &sum->kept : counters[c->state]);
        if (c->kept && c->state == CLIP_FINDINGS) sum->findings++, sum->kept--;
        sum->cracks += (size_t)c->result.figures[FIGURE_CRACKS];
        sum->rumbles += (size_t)c->result.figures[FIGURE_RUMBLES];
        sum->length_ms += c->result.figures[FIGURE_LENGTH];
    }
    round_say_refused(r, sum->refused_why, sizeof sum->refused_why);
}

static void tell_all(const struct round *r, batch_tell *tell, void *user)
{
    char plain[512];
    struct tc_problem line;
    for (size_t i = 0; i < r->count && tell; i++) {
        const struct clip *c = &r->clips[i];
        if (c->edited) {
            problem_set(&line, TC_OK, "%s: was edited since thundercue wrote it, and is left as it is",
                        text_plain(plain, sizeof plain, c->edited));
            tell(user, line.text);
        }
        if (c->kept || !c->result.message || c->state == CLIP_UNFINISHED || c->state == CLIP_PASSED_OVER) continue;
        text_plain(plain, sizeof plain, c->path);
        bool named = !strncmp(c->result.message, plain, strlen(plain)) || c->result.status == TC_ERR_EXISTS
                     || c->result.status == TC_ERR_WRITE;
        problem_set(&line, TC_OK, "%s%s%s%s", c->state == CLIP_SKIPPED ? "skipped: " : "", named ? "" : plain,
                    named ? "" : ": ", c->result.message);
        tell(user, line.text);
    }
}

static void release(struct round *r)
{
    for (size_t i = 0; i < r->count; i++) {
        free(r->clips[i].file);
        free(r->clips[i].path);
        free(r->clips[i].name);
        free(r->clips[i].events);
        free(r->clips[i].result.message);
        free(r->clips[i].message_before);
        free(r->clips[i].edited);
    }
    free(r->clips);
    free(r->order);
    free(r->summary_path);
    if (r->lock >= 0) close(r->lock);
}

/* ---- The story ---- */

static size_t workers(const struct round *r)
{
    size_t room = child_room();
    return r->batch->jobs < room ? r->batch->jobs : room;
}

static enum tc_status find_clips(struct round *r)
{
    char plain[512];
    enum tc_status status = round_scan(r);
    if (status != TC_OK) return status;
    status = round_digest_ground(r);
    if (status != TC_OK) return status;
    pool_run(workers(r), r->count, &(struct pool_task){ r, round_look, round_looked, NULL });
    progress_clear();
    if (stop_asked()) return problem_say(r->why, TC_ERR_STOPPED);
    size_t clips = 0;
    for (size_t i = 0; i < r->count; i++) clips += r->clips[i].state != CLIP_PASSED_OVER;
    if (clips) return round_name_outputs(r);
    return problem_set(r->why, TC_ERR_READ, "%s: there are no recordings in this folder%s",
                       text_plain(plain, sizeof plain, r->batch->folder),
                       r->batch->recursive ? "" : "; --recursive looks into the folders below it too");
}

static enum tc_status do_clips(struct round *r)
{
    enum tc_status status = plan_order(r);
    if (status == TC_OK) status = summary_write(r);
    if (status != TC_OK) return status;
    r->begun = clock_now_s();
    pool_run(workers(r), r->order_count, &(struct pool_task){ r, work, worked, show_progress });
    progress_clear();
    return summary_write(r);
}

enum tc_status batch_run(const struct batch *b, const struct tc_rig *rig, const struct tc_settings *s,
                         struct batch_sum *sum, batch_tell *tell, void *user, struct tc_problem *why)
{
    memset(sum, 0, sizeof *sum);
    struct round r = { .batch = b, .rig = rig, .settings = s, .why = why, .lock = -1 };
    enum tc_status status = tc_settings_check(s, why);
    if (status == TC_OK) status = find_clips(&r);
    if (status == TC_OK && !(r.summary_path = folder_join(b->out_dir, "summary.csv"))) status = round_no_memory(&r);
    if (status == TC_OK) status = folder_make(b->out_dir, why);
    if (status == TC_OK) status = take_lock(&r);
    if (status == TC_OK) status = summary_recall(&r);
    if (status == TC_OK) {
        sweep(&r);
        status = round_decide(&r);
        if (status == TC_OK) status = do_clips(&r);
        tidy(&r);
        add_up(&r, sum);
        tell_all(&r, tell, user);
    }
    if (status == TC_OK && stop_asked()) status = problem_set(why, TC_ERR_STOPPED, "stopped; run it again to go on");
    release(&r);
    return status;
}
