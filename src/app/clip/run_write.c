#include "app/clip/run_write.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/clip/report.h"
#include "app/clip/run_page.h"
#include "app/clip/run_sum.h"
#include "io/files/commit.h"
#include "io/files/stream.h"
#include "io/process/stop.h"
#include "words/status.h"
#include "writing/columns.h"

/* What the writing of one show holds. */
struct writing {
    struct outfile *files[RUN_FILES];
    struct page_ramps *ramps;    /* of the page; NULL without one */
    struct shown shown;
    struct columns columns;
};

static void writing_release(struct writing *w)
{
    for (int i = 0; i < RUN_FILES; i++) outfile_abandon(w->files[i]);
    page_ramps_destroy(w->ramps);
    columns_clear(&w->columns);
    shown_clear(&w->shown);
}

static enum tc_status writing_open(struct run *r, struct writing *w)
{
    enum tc_status status = r->job->preview ? page_ramps_create(&w->ramps, r->rig->channel_count) : TC_OK;
    if (status != TC_OK) return problem_say(r->why, status);
    for (int i = 0; i < RUN_FILES && status == TC_OK; i++)
        if (r->out->paths[i])
            status = outfile_open(&w->files[i], r->out->paths[i], r->job->over != OVER_NOTHING, r->why);
    return status;
}

/* A write failed: its stream knows which file's it was, and why. */
static enum tc_status tell_unwritten(struct run *r, struct writing *w)
{
    enum tc_status status = TC_OK;
    for (int i = 0; i < RUN_FILES && status == TC_OK; i++)
        if (w->files[i]) status = outfile_seal(w->files[i], r->why);
    return status != TC_OK ? status : problem_say(r->why, TC_ERR_WRITE);
}

/* Every light frame goes past all that write, count and measure. */
static enum tc_status write_frames(struct run *r, struct writing *w)
{
    const struct tc_sink frames = stream_sink(outfile_stream(w->files[RUN_FRAMES]));
    const struct tc_sink ramps = stream_sink(outfile_stream(w->files[RUN_RAMPS]));
    enum tc_status status = showing_run(&(struct showing){
        .timeline = &r->timeline, .rig = r->rig, .settings = r->settings, .watch = stop_of_calls(),
        .frames = &frames, .ramps = &ramps, .ramp = w->ramps ? page_ramps_add : NULL, .ramp_to = w->ramps,
        .shown = &w->shown, .columns = &w->columns }, r->why);
    return status == TC_ERR_WRITE ? tell_unwritten(r, w) : status;
}

static enum tc_status put_json(struct run *r, FILE *to)
{
    return report_json(to, r->job, r->rig, r->settings, r->out, r->extra ? r->extra->report(r->extra->of) : NULL,
                       r->why);
}

static enum tc_status write_json(struct run *r)
{
    if (!strcmp(r->job->json, "-"))
        return put_json(r, stdout);
    struct outfile *file;
    enum tc_status status = outfile_open(&file, r->job->json, r->job->over != OVER_NOTHING, r->why);
    if (status != TC_OK) return status;
    status = put_json(r, outfile_stream(file));
    if (status != TC_OK) {
        outfile_abandon(file);
        return status;
    }
    return outfile_commit(file, r->why);
}

/* Outputs and the run's further files get their names at once. */
static enum tc_status commit(struct run *r, struct writing *w)
{
    struct outfile *all[RUN_FILES + RUN_MORE];
    memcpy(all, w->files, sizeof w->files);
    memcpy(all + RUN_FILES, r->more, sizeof r->more);
    enum tc_status status = commit_together(all, RUN_FILES + RUN_MORE, r->job->out_dir ? r->job->out_dir : ".",
                                          r->job->over, r->why);
    memcpy(w->files, all, sizeof w->files);
    memcpy(r->more, all + RUN_FILES, sizeof r->more);
    return status;
}

/* Asks before each write, since the list may be long. */
static enum tc_status write_unless_stopped(void *to, const char *bytes, size_t size)
{
    if (stop_asked()) return TC_ERR_STOPPED;
    struct tc_sink sink = stream_sink(to);
    return sink.write(sink.to, bytes, size);
}

static enum tc_status write_events(struct run *r, struct writing *w)
{
    if (!w->files[RUN_EVENTS]) return TC_OK;
    struct tc_sink sink = { write_unless_stopped, outfile_stream(w->files[RUN_EVENTS]) };
    enum tc_status status = tc_events_write(&r->heard, sink, r->why);
    return status == TC_ERR_WRITE ? tell_unwritten(r, w) : status;
}

enum tc_status run_write_files(struct run *r)
{
    struct writing w = { .ramps = NULL };
    enum tc_status status = writing_open(r, &w);
    if (status == TC_OK) status = write_events(r, &w);
    if (status == TC_OK) status = write_frames(r, &w);
    if (status == TC_OK) status = run_sum_up(r, &w.shown);
    if (status == TC_OK && w.ramps) status = run_page_write(r, w.ramps, &w.columns, outfile_stream(w.files[RUN_PAGE]));
    if (status == TC_OK) status = commit(r, &w);
    writing_release(&w);
    if (status == TC_OK && r->job->json) status = write_json(r);
    return status;
}
