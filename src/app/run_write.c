#include "app/run_write.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/report.h"
#include "app/run_page.h"
#include "io/commit.h"
#include "io/stop.h"
#include "io/stream.h"
#include "light/reached.h"
#include "show/showing.h"
#include "words/memory.h"
#include "words/status.h"
#include "words/units.h"
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
    if (status != TC_OK) return problem_set(r->why, status, "%s", tc_status_text(status));
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
    return status != TC_OK ? status : problem_set(r->why, TC_ERR_WRITE, "%s", tc_status_text(TC_ERR_WRITE));
}

/* Every light frame goes past all that write, count and measure. */
static enum tc_status write_frames(struct run *r, struct writing *w)
{
    const struct tc_sink frames = stream_sink(outfile_stream(w->files[RUN_FRAMES]));
    const struct tc_sink ramps = stream_sink(outfile_stream(w->files[RUN_RAMPS]));
    enum tc_status status = showing_run(&(struct showing){
        .timeline = &r->timeline, .rig = r->rig, .settings = r->settings, .watch = stop_of_calls(),
        .frames = &frames, .ramps = &ramps, .ramp = w->ramps ? page_ramps_add : NULL, .ramp_to = w->ramps,
        .shown = &w->shown, .columns = &w->columns });
    if (status == TC_OK) return TC_OK;
    return status == TC_ERR_WRITE ? tell_unwritten(r, w) : problem_set(r->why, status, "%s", tc_status_text(status));
}

/* "3-5 9": channels that follow each other in the rig are drawn together. */
static void list_never_lit(const struct tc_rig *rig, const bool *lit, struct outcome *o)
{
    static const char more[] = " ...";
    size_t used = 0, size = sizeof o->never_lit_list;
    for (size_t c = 0, last; c < rig->channel_count; c = last + 1) {
        last = c;
        if (lit[c]) continue;
        while (last + 1 < rig->channel_count && !lit[last + 1]) last++;
        o->never_lit += last - c + 1;
        if (used + 16 > size) continue; /* full: only counted */
        used += (size_t)snprintf(o->never_lit_list + used, size - used, last > c ? "%s%d-%d" : "%s%d",
                                 used ? " " : "", rig->channels[c].number, rig->channels[last].number);
        if (used + 16 > size) memcpy(o->never_lit_list + used, more, sizeof more);
    }
}

/* Cracks that the flash limit leaves nearly dark: they are no strokes that
 * anybody sees. */
static enum tc_status count_held_back(struct run *r, struct writing *w)
{
    if (!w->shown.flash.softened) return TC_OK;
    uint32_t *which;
    enum tc_status status = cracks_held_back(&r->timeline, r->heard.events, r->rig, r->settings, stop_of_calls(), &which,
                                             &r->out->cracks_held_back);
    r->out->strokes -= r->out->cracks_held_back;
    memory_free(which);
    return status == TC_OK ? TC_OK : problem_set(r->why, status, "%s", tc_status_text(status));
}

static bool is_background(const struct tc_pulse *p)
{
    return !p->fall && p->hold == 1 && (p->peak || p->glow);
}

/* Rumbles in which no ramp of the floods has any light. Ramps stand as they begin. */
static size_t count_soft_rumbles(const struct run *r)
{
    const struct tc_timeline *t = &r->timeline;
    int64_t lead_ms = (int64_t)r->settings->lead_ms;
    size_t soft = 0, p = 0;
    for (size_t i = 0; i < r->heard.event_count; i++) {
        const struct tc_event *e = &r->heard.events[i];
        if (e->kind != TC_RUMBLE) continue;
        int64_t from = frame_at(e->start_ms - lead_ms, t->frame_rate), to = frame_at(e->end_ms - lead_ms, t->frame_rate);
        while (p < t->pulse_count && (!is_background(&t->pulses[p]) || (int64_t)t->pulses[p].frame < from)) p++;
        soft += p == t->pulse_count || (int64_t)t->pulses[p].frame - t->pulses[p].rise > to;
    }
    return soft;
}

static void sum_up(struct run *r, struct writing *w)
{
    struct outcome *o = r->out;
    o->length_ms = r->heard.length_ms;
    o->sample_rate = r->heard.sample_rate;
    o->channels = r->heard.channels;
    o->frames = r->timeline.frames;
    for (size_t i = 0; i < r->heard.event_count; i++)
        r->heard.events[i].kind == TC_CRACK ? o->cracks++ : o->rumbles++;
    o->strokes = r->timeline.stroke_count;
    o->dropped = r->timeline.dropped;
    o->soft_rumbles = r->settings->rumble_light > 0 ? count_soft_rumbles(r) : 0;
    for (size_t i = 0; i < r->timeline.stroke_count; i++) {
        const struct tc_stroke *stroke = &r->timeline.strokes[i];
        o->glimmers += r->heard.events[stroke->event].kind == TC_RUMBLE;
        if (!stroke->order) continue;
        stroke->heard ? o->restrikes_heard++ : o->restrikes_drawn++;
    }
    list_never_lit(r->rig, w->shown.lit, o);
    o->brightest = w->shown.brightest;
    o->brightest_at_ms = w->shown.brightest_at_ms;
    o->flash = w->shown.flash;
    o->load = w->shown.load;
    w->shown.load = (struct load_report){ .channels = NULL }; /* the outcome has it now */
}

static enum tc_status put_json(struct run *r, FILE *to)
{
    return report_json(to, r->job, r->rig, r->settings, r->out, r->extra ? r->extra->report(r->extra->of) : NULL, r->why);
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
    enum tc_status status = tc_events_write(&r->heard, sink);
    if (status == TC_OK) return TC_OK;
    return status == TC_ERR_WRITE ? tell_unwritten(r, w) : problem_set(r->why, status, "%s", tc_status_text(status));
}

enum tc_status run_write_files(struct run *r)
{
    struct writing w = { .ramps = NULL };
    enum tc_status status = writing_open(r, &w);
    if (status == TC_OK) status = write_events(r, &w);
    if (status == TC_OK) status = write_frames(r, &w);
    if (status == TC_OK) sum_up(r, &w);
    if (status == TC_OK) status = count_held_back(r, &w);
    if (status == TC_OK && w.ramps) status = run_page_write(r, w.ramps, &w.columns, outfile_stream(w.files[RUN_PAGE]));
    if (status == TC_OK) status = commit(r, &w);
    writing_release(&w);
    if (status == TC_OK && r->job->json) status = write_json(r);
    return status;
}
