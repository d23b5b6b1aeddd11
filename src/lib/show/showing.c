#include "show/showing.h"

#include <string.h>

#include "light/flash_count.h"
#include "light/player.h"
#include "rig/load.h"
#include "words/memory.h"
#include "words/settings.h"
#include "words/sink.h"
#include "words/status.h"
#include "words/units.h"
#include "words/watch.h"
#include "writing/columns.h"
#include "writing/frames_csv.h"
#include "writing/ramps_csv.h"

/* Light frames between two calls of the watch, at least. */
enum { FRAMES_APART = 1024, TOLD = 200 };

/* The stages that look at every light frame; NULL where one is not wanted. */
struct stages {
    const struct showing *asked;
    struct tc_settings settings;
    struct tc_player *player;
    struct ramper *ramper;
    struct flash_counter *flash;
    struct load_meter *load;
    struct frames_columns frames_columns;
    struct writer *frames, *ramps;
    uint16_t *levels;
};

/* ---- Opening and closing ---- */

static enum tc_status begin_table(struct writer **out, const struct tc_sink *sink)
{
    *out = memory_new(1, sizeof **out);
    if (!*out) return TC_ERR_MEMORY;
    writer_begin(*out, *sink);
    return TC_OK;
}

static enum tc_status open_counting(struct stages *w, uint16_t full)
{
    const struct showing *s = w->asked;
    s->shown->lit = memory_new(s->rig->channel_count + 1, sizeof *s->shown->lit);
    enum tc_status status = s->shown->lit ? TC_OK : TC_ERR_MEMORY;
    if (status == TC_OK) status = flash_counter_create(&w->flash, s->rig, full, w->settings.flash_limit);
    if (status == TC_OK) status = load_meter_create(&w->load, s->rig, full);
    if (status == TC_OK && s->columns) status = columns_create(s->columns, s->rig->channel_count, s->timeline->frames);
    return status;
}

static enum tc_status open_all(struct stages *w, struct tc_problem *why)
{
    const struct showing *s = w->asked;
    enum tc_status status = settings_take(&w->settings, s->settings, why);
    if (status == TC_OK) status = tc_player_create(&w->player, s->timeline, s->rig, &w->settings, why);
    if (status != TC_OK) return status;
    uint16_t full = level_full(w->settings.levels);
    w->levels = memory_new(s->rig->channel_count + 1, sizeof *w->levels);
    if (!w->levels) status = TC_ERR_MEMORY;
    if (status == TC_OK && (s->ramps || s->ramp)) status = ramper_create(&w->ramper, s->rig, full);
    if (status == TC_OK && s->shown) status = open_counting(w, full);
    if (status == TC_OK && s->frames) status = begin_table(&w->frames, s->frames);
    if (status == TC_OK && s->ramps) status = begin_table(&w->ramps, s->ramps);
    return status == TC_OK ? TC_OK : problem_say(why, status);
}

static void close_all(struct stages *w)
{
    tc_player_destroy(w->player);
    ramper_destroy(w->ramper);
    flash_counter_destroy(w->flash);
    load_meter_destroy(w->load);
    memory_free(w->frames);
    memory_free(w->ramps);
    memory_free(w->levels);
}

/* ---- One light frame ---- */

/* When the show's first light frame starts. */
static int64_t start_ms(const struct stages *w)
{
    return seconds_ms(w->settings.shift_s);
}

/* When a light frame starts in the show, exactly enough for counting flashes. */
static int64_t starts_us(const struct stages *w, int64_t frame)
{
    return 1000 * start_ms(w) + frame_us(frame, w->settings.frame_rate);
}

static enum tc_status put_ready_ramps(struct stages *w)
{
    const struct showing *s = w->asked;
    struct ramp ramp;
    enum tc_status status = TC_OK;
    while (status == TC_OK && ramper_next(w->ramper, &ramp)) {
        if (w->ramps) ramps_write_row(w->ramps, &ramp, s->rig, &w->settings);
        if (s->ramp) status = s->ramp(s->ramp_to, &ramp);
        if (status == TC_OK && w->ramps) status = w->ramps->status;
    }
    return status;
}

static enum tc_status write_frame(struct stages *w, int64_t at_ms)
{
    enum tc_status status = TC_OK;
    if (w->frames) {
        frames_write_row(w->frames, at_ms, w->levels, &w->frames_columns, (enum tc_levels)w->settings.levels);
        status = w->frames->status;
    }
    if (status == TC_OK && w->ramper) status = ramper_step(w->ramper, w->levels);
    if (status == TC_OK && w->ramper) status = put_ready_ramps(w);
    return status;
}

static void count_frame(struct stages *w, int64_t frame, int64_t at_ms)
{
    struct shown *o = w->asked->shown;
    flash_counter_step(w->flash, w->levels, starts_us(w, frame));
    load_meter_step(w->load, w->levels, at_ms);
    if (w->asked->columns) columns_step(w->asked->columns, w->levels, flash_counter_recent(w->flash));
    double light = player_light(w->player, w->levels);
    if (light > o->brightest) {
        o->brightest = light;
        o->brightest_at_ms = at_ms;
    }
    for (size_t c = 0; c < w->asked->rig->channel_count; c++)
        if (w->levels[c]) o->lit[c] = true;
}

/* ---- All of them ---- */

static enum tc_status play_through(struct stages *w)
{
    const struct showing *s = w->asked;
    int64_t frames = s->timeline->frames, apart = frames / TOLD > FRAMES_APART ? frames / TOLD : FRAMES_APART;
    enum tc_status status = TC_OK;
    if (w->frames) {
        w->frames_columns = frames_columns(s->rig, w->settings.outputs);
        frames_write_head(w->frames, s->rig, &w->frames_columns);
    }
    if (w->ramps) ramps_write_head(w->ramps);
    for (int64_t f = 0; status == TC_OK && tc_player_step(w->player, w->levels); f++) {
        int64_t at_ms = start_ms(w) + frame_ms(f, w->settings.frame_rate);
        if (f % apart == 0) status = watch_tell(s->watch, (double)f / (double)frames);
        if (status == TC_OK) status = write_frame(w, at_ms);
        if (status == TC_OK && s->shown) count_frame(w, f, at_ms);
    }
    if (status == TC_OK && w->ramper) status = ramper_flush(w->ramper);
    if (status == TC_OK && w->ramper) status = put_ready_ramps(w);
    if (status == TC_OK && w->frames) status = writer_end(w->frames);
    if (status == TC_OK && w->ramps) status = writer_end(w->ramps);
    return status;
}

/* A timeline that repeats goes on with its own beginning: counted for more
 * than a second after the end, with a player of its own. */
static enum tc_status count_seam(struct stages *w)
{
    const struct showing *s = w->asked;
    int64_t frame = s->timeline->frames, until = frame + w->settings.frame_rate + 1;
    while (s->timeline->frames > 0 && frame < until) {
        struct tc_player *again;
        enum tc_status status = tc_player_create(&again, s->timeline, s->rig, &w->settings, NULL);
        if (status != TC_OK) return status;
        for (; frame < until && tc_player_step(again, w->levels); frame++)
            flash_counter_step(w->flash, w->levels, starts_us(w, frame));
        tc_player_destroy(again);
    }
    return TC_OK;
}

static void sum_up(struct stages *w)
{
    struct shown *o = w->asked->shown;
    flash_counter_report(w->flash, &o->flash);
    o->flash.softened = player_softened(w->player);
    load_meter_report(w->load, &o->load);
}

static enum tc_status run_all(struct stages *w, struct tc_problem *why)
{
    const struct showing *s = w->asked;
    enum tc_status status = play_through(w);
    if (status == TC_OK && s->shown && w->settings.loop) status = count_seam(w);
    if (status == TC_OK) status = watch_tell(s->watch, 1);
    if (status != TC_OK) return problem_say(why, status);
    if (s->shown) sum_up(w);
    return TC_OK;
}

enum tc_status showing_run(const struct showing *s, struct tc_problem *why)
{
    struct stages w = { .asked = s };
    if (s->shown) *s->shown = (struct shown){ .lit = NULL };
    if (s->columns) *s->columns = (struct columns){ .level = NULL };
    enum tc_status status = open_all(&w, why);
    if (status == TC_OK) status = run_all(&w, why);
    close_all(&w);
    return status;
}

void shown_clear(struct shown *s)
{
    load_report_clear(&s->load);
    memory_free(s->lit);
    memset(s, 0, sizeof *s);
}
