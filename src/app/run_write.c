#include "app/run_write.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/preview.h"
#include "app/run_page.h"
#include "app/report.h"
#include "io/commit.h"
#include "io/stop.h"
#include "io/stream.h"
#include "light/flash_count.h"
#include "light/player.h"
#include "light/reached.h"
#include "marks/events_text.h"
#include "rig/load.h"
#include "words/sink.h"
#include "words/status.h"
#include "words/units.h"
#include "writing/columns.h"
#include "writing/frames_csv.h"
#include "writing/ramps_csv.h"

/* The open outputs, and the stages that look at every light frame. */
struct writing {
    struct outfile *files[RUN_FILES];
    struct tc_player *player;
    struct ramper *ramper;
    struct flash_counter *flash;
    struct load_meter *load;
    struct columns columns;
    struct preview *preview;     /* NULL without a page */
    uint16_t *levels;
    bool *lit;
    struct writer frames, ramps;
};

static void writing_release(struct writing *w)
{
    for (int i = 0; i < RUN_FILES; i++) outfile_abandon(w->files[i]);
    tc_player_destroy(w->player);
    ramper_destroy(w->ramper);
    flash_counter_destroy(w->flash);
    load_meter_destroy(w->load);
    columns_clear(&w->columns);
    preview_destroy(w->preview);
    free(w->levels);
    free(w->lit);
}

static enum tc_status writing_open(struct run *r, struct writing *w)
{
    size_t channels = r->rig->channel_count;
    uint16_t full = level_full(r->settings->levels);
    w->levels = calloc(channels + 1, sizeof *w->levels);
    w->lit = calloc(channels + 1, sizeof *w->lit);
    enum tc_status status = w->levels && w->lit ? TC_OK : TC_ERR_MEMORY;
    if (status == TC_OK) status = tc_player_create(&w->player, &r->timeline, r->rig, r->settings);
    if (status == TC_OK) status = ramper_create(&w->ramper, channels, full);
    if (status == TC_OK) status = flash_counter_create(&w->flash, r->rig, full, r->settings->flash_limit);
    if (status == TC_OK) status = load_meter_create(&w->load, r->rig, full);
    if (status == TC_OK) status = columns_create(&w->columns, channels, r->timeline.frames);
    if (status == TC_OK && r->job->preview) status = preview_create(&w->preview, channels);
    if (status != TC_OK) return problem_set(r->why, status, "%s", tc_status_text(status));
    for (int i = 0; i < RUN_FILES && status == TC_OK; i++)
        if (r->out->paths[i])
            status = outfile_open(&w->files[i], r->out->paths[i], r->job->over != OVER_NOTHING, r->why);
    return status;
}

static enum tc_status write_ready_ramps(struct run *r, struct writing *w)
{
    struct ramp ramp;
    enum tc_status status = TC_OK;
    while (status == TC_OK && ramper_next(w->ramper, &ramp)) {
        ramps_write_row(&w->ramps, &ramp, r->rig, r->settings);
        if (w->preview) status = preview_ramp(w->preview, &ramp);
    }
    return status;
}

/* When the show's first light frame starts. */
static int64_t start_ms(const struct run *r)
{
    return seconds_ms(r->settings->shift_s);
}

/* When a light frame starts in the show, exactly enough for counting flashes. */
static int64_t shown_us(const struct run *r, int64_t frame)
{
    return 1000 * start_ms(r) + frame_us(frame, r->settings->frame_rate);
}

static void note_light(struct run *r, struct writing *w, int64_t at_ms)
{
    double light = player_light(w->player, w->levels);
    if (light > r->out->brightest) {
        r->out->brightest = light;
        r->out->brightest_at_ms = at_ms;
    }
    for (size_t c = 0; c < r->rig->channel_count; c++)
        if (w->levels[c]) w->lit[c] = true;
}

/* Every light frame goes past all that write, count and measure. */
static enum tc_status write_frames(struct run *r, struct writing *w)
{
    const struct tc_settings *s = r->settings;
    writer_begin(&w->frames, stream_sink(outfile_stream(w->files[RUN_FRAMES])));
    writer_begin(&w->ramps, stream_sink(outfile_stream(w->files[RUN_RAMPS])));
    struct frames_columns columns = frames_columns(r->rig, s->outputs);
    frames_write_head(&w->frames, r->rig, &columns);
    ramps_write_head(&w->ramps);

    for (int64_t f = 0; tc_player_step(w->player, w->levels); f++) {
        int64_t at_ms = start_ms(r) + frame_ms(f, s->frame_rate);
        frames_write_row(&w->frames, at_ms, w->levels, &columns, (enum tc_levels)s->levels);
        enum tc_status status = ramper_step(w->ramper, w->levels);
        if (status == TC_OK) status = write_ready_ramps(r, w);
        if (status != TC_OK) return problem_set(r->why, status, "%s", tc_status_text(status));
        flash_counter_step(w->flash, w->levels, shown_us(r, f));
        load_meter_step(w->load, w->levels, at_ms);
        columns_step(&w->columns, w->levels, flash_counter_recent(w->flash));
        note_light(r, w, at_ms);
        if (stop_asked()) return problem_set(r->why, TC_ERR_STOPPED, "stopped");
    }
    enum tc_status status = ramper_flush(w->ramper);
    if (status == TC_OK) status = write_ready_ramps(r, w);
    if (status != TC_OK) return problem_set(r->why, status, "%s", tc_status_text(status));
    writer_end(&w->frames); /* what can't be written is told where the outputs are sealed */
    writer_end(&w->ramps);
    return TC_OK;
}

/* A timeline that repeats goes on with its own beginning: counted for more
 * than a second behind the end, with a player of its own. */
static enum tc_status count_seam(struct run *r, struct writing *w)
{
    int64_t frame = r->timeline.frames, until = frame + r->settings->frame_rate + 1;
    while (frame < until) {
        struct tc_player *again;
        enum tc_status status = tc_player_create(&again, &r->timeline, r->rig, r->settings);
        if (status != TC_OK) return problem_set(r->why, status, "%s", tc_status_text(status));
        for (; frame < until && tc_player_step(again, w->levels); frame++)
            flash_counter_step(w->flash, w->levels, shown_us(r, frame));
        tc_player_destroy(again);
    }
    return TC_OK;
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
    const struct tc_timeline *t = &r->timeline;
    if (!player_softened(w->player)) return TC_OK;
    float *share = calloc(t->stroke_count + 1, sizeof *share);
    enum tc_status status = share ? strokes_reached(t, r->rig, r->settings, stop_of_calls(), share) : TC_ERR_MEMORY;
    for (size_t i = 0; status == TC_OK && i < t->stroke_count; i++)
        r->out->cracks_held_back += !t->strokes[i].order && share[i] < REACHED_HELD_BACK
                                    && r->heard.events[t->strokes[i].event].kind == TC_CRACK;
    r->out->strokes -= r->out->cracks_held_back;
    free(share);
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
    list_never_lit(r->rig, w->lit, o);
    flash_counter_report(w->flash, &o->flash);
    o->flash.softened = player_softened(w->player);
    load_meter_report(w->load, &o->load);
}

static enum tc_status write_json(struct run *r)
{
    if (!strcmp(r->job->json, "-"))
        return report_json(stdout, r->job, r->rig, r->settings, r->out, r->why);
    struct outfile *file;
    enum tc_status status = outfile_open(&file, r->job->json, r->job->over != OVER_NOTHING, r->why);
    if (status != TC_OK) return status;
    status = report_json(outfile_stream(file), r->job, r->rig, r->settings, r->out, r->why);
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

/* Writes of a list that may be long; a stream that can't be written is told
 * where the outputs are sealed. */
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
    if (tc_events_write(&r->heard, sink) != TC_ERR_STOPPED) return TC_OK;
    return problem_set(r->why, TC_ERR_STOPPED, "stopped");
}

enum tc_status run_write_files(struct run *r)
{
    struct writing w = { 0 };
    enum tc_status status = writing_open(r, &w);
    if (status == TC_OK) {
        status = write_events(r, &w);
        if (status == TC_OK) status = write_frames(r, &w);
    }
    if (status == TC_OK && r->settings->loop) status = count_seam(r, &w);
    if (status == TC_OK) {
        sum_up(r, &w);
        status = count_held_back(r, &w);
    }
    if (status == TC_OK) {
        if (w.preview) status = run_page_write(r, w.preview, &w.columns, outfile_stream(w.files[RUN_PAGE]));
        if (status == TC_OK) status = commit(r, &w);
    }
    writing_release(&w);
    if (status == TC_OK && r->job->json) status = write_json(r);
    return status;
}
