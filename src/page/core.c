/* The page's door to the library: what page/core.js calls in the WebAssembly
 * build. One storm, one rig, one set of settings; after core_cue the texts
 * below are those that the program would write for them. Times are whole
 * milliseconds, handed over as doubles, which hold them exactly. */
#include <math.h>
#include <string.h>

#include "light/flash_count.h"
#include "light/player.h"
#include "page/data.h"
#include "rig/load.h"
#include "words/memory.h"
#include "words/settings.h"
#include "words/status.h"
#include "words/units.h"
#include "writing/columns.h"
#include "writing/frames_csv.h"
#include "writing/ramps_csv.h"

#define DOOR(name) __attribute__((export_name(#name))) name

enum text { TEXT_PROBLEM, TEXT_DATA, TEXT_EVENTS, TEXT_FRAMES, TEXT_RAMPS, TEXT_SETTINGS, TEXT_TABLE, TEXT_CHOSEN, TEXT_RIG, TEXT_RIG_WRITTEN, TEXT_COUNT };

struct text_made {
    char *bytes;
    size_t size, room;
};

/* A page has one core, and a core one storm: the state that the page works on. */
static struct {
    struct tc_settings settings;
    struct tc_rig rig;
    struct tc_analysis heard;
    struct tc_listener *ear;
    struct text_made made[TEXT_COUNT];
} core;

static enum tc_status take_bytes(void *to, const char *bytes, size_t size)
{
    struct text_made *t = to;
    if (t->size + size > t->room) {
        size_t room = 2 * (t->size + size) + 4096;
        char *more = memory_resize(t->bytes, room);
        if (!more) return TC_ERR_MEMORY;
        t->bytes = more;
        t->room = room;
    }
    memcpy(t->bytes + t->size, bytes, size);
    t->size += size;
    return TC_OK;
}

/* A text begun anew. */
static struct tc_sink text(enum text which)
{
    core.made[which].size = 0;
    return (struct tc_sink){ take_bytes, &core.made[which] };
}

static int tell(enum tc_status status, const struct tc_problem *why)
{
    const char *words = why && *why->text ? why->text : tc_status_text(status);
    if (status != TC_OK) take_bytes(text(TEXT_PROBLEM).to, words, strlen(words));
    return (int)status;
}

/* ---- Bytes in and out ---- */

void *DOOR(core_new)(size_t bytes)
{
    return memory_new(bytes + 1, 1);
}

void DOOR(core_free)(void *room)
{
    memory_free(room);
}

const char *DOOR(core_text)(int which)
{
    return core.made[which].bytes;
}

size_t DOOR(core_size)(int which)
{
    return core.made[which].size;
}

/* ---- Settings and rig ---- */

/* The defaults, and over them "name = value" lines. */
int DOOR(core_settings)(const char *lines, size_t size)
{
    struct tc_problem why = { 0 };
    struct tc_settings s = tc_settings_default();
    enum tc_status status = tc_settings_read(lines, size, "settings", &s, &why);
    if (status == TC_OK) status = tc_settings_check(&s, &why);
    if (status == TC_OK) core.settings = s;
    return tell(status, &why);
}

/* Without text the built-in one. The rig that is there stays if the text is wrong. */
int DOOR(core_rig)(const char *lines, size_t size)
{
    struct tc_problem why = { 0 };
    struct tc_rig rig;
    enum tc_status status = size ? tc_rig_read(lines, size, "rig", &rig, &why) : tc_rig_builtin(&rig);
    if (status != TC_OK) return tell(status, &why);
    tc_rig_clear(&core.rig);
    core.rig = rig;
    if ((status = tc_rig_write(&rig, text(TEXT_RIG_WRITTEN))) != TC_OK) return tell(status, NULL);
    text(TEXT_RIG);
    take_bytes(&core.made[TEXT_RIG], lines, size);
    take_bytes(&core.made[TEXT_RIG], "", 1);
    return TC_OK;
}

/* The table of settings as JSON: [{name, type, topic, preset, least, most, unit, zero, help}]. */
int DOOR(core_table)(void)
{
    return tell(page_settings_table(text(TEXT_TABLE)), NULL);
}

/* ---- What was heard ---- */

/* Bytes as page/data.c packs them (page_analysis_unpack). */
int DOOR(core_analysis)(const unsigned char *bytes, size_t size)
{
    struct tc_analysis heard;
    enum tc_status status = page_analysis_unpack(&heard, bytes, size);
    if (status != TC_OK) return tell(status, NULL);
    tc_analysis_clear(&core.heard);
    core.heard = heard;
    return TC_OK;
}

int DOOR(core_listen)(double rate, int channels)
{
    tc_listener_destroy(core.ear);
    core.ear = NULL;
    return tell(tc_listener_create(&core.ear, &core.settings, rate, channels), NULL);
}

int DOOR(core_push)(const float *samples, size_t frames)
{
    return tell(tc_listener_push(core.ear, samples, frames), NULL);
}

int DOOR(core_heard)(void)
{
    struct tc_analysis heard = { 0 };
    enum tc_status status = tc_listener_finish(core.ear, &heard);
    if (status != TC_OK) return tell(status, NULL);
    tc_listener_destroy(core.ear);
    core.ear = NULL;
    tc_analysis_clear(&core.heard);
    core.heard = heard;
    return TC_OK;
}

/* ---- Events ---- */

/* Chooses the events at the settings' sensitivity and lists them as JSON. */
int DOOR(core_choose)(void)
{
    enum tc_status status = tc_analysis_choose(&core.heard, core.settings.sensitivity);
    if (status == TC_OK) status = page_events_write(text(TEXT_CHOSEN), &core.heard);
    return tell(status, NULL);
}

/* Takes the place of all events; `rows` holds 25 numbers for each: kind, start, end, peak (ms),
 * strength, sharpness, level, strokes, channels in the path, and these. By start, cracks first. */
int DOOR(core_events)(const double *rows, size_t count)
{
    enum { ROW = 9 + TC_PATH_MAX_CHANNELS };
    struct tc_event *events = memory_new(count + 1, sizeof *events);
    if (!events) return tell(TC_ERR_MEMORY, NULL);
    for (size_t i = 0; i < count; i++, rows += ROW) {
        events[i] = (struct tc_event){
            .kind = rows[0] > 0 ? TC_RUMBLE : TC_CRACK, .start_ms = (int64_t)rows[1], .end_ms = (int64_t)rows[2],
            .peak_ms = (int64_t)rows[3], .strength = (float)rows[4], .sharpness = (float)rows[5],
            .level_dbfs = (float)rows[6], .strokes = (int)rows[7], .path_count = (int)rows[8],
        };
        for (int k = 0; k < events[i].path_count && k < TC_PATH_MAX_CHANNELS; k++)
            events[i].path[k] = (uint16_t)rows[9 + k];
    }
    memory_free(core.heard.events);
    core.heard.events = events;
    core.heard.event_count = count;
    return TC_OK;
}

/* An events file in the place of what was heard. */
int DOOR(core_events_file)(const char *lines, size_t size)
{
    struct tc_problem why = { 0 };
    enum tc_status status = tc_events_read(lines, size, "events", &core.heard, NULL, &why);
    if (status == TC_OK && core.heard.sensitivity >= 0) core.settings.sensitivity = core.heard.sensitivity;
    return tell(status, &why);
}

/* ---- The show ---- */

/* Everything that looks at light frames. */
struct show {
    struct tc_timeline timeline;
    struct tc_player *player;
    struct ramper *ramper;
    struct flash_counter *flash;
    struct load_meter *load;
    struct columns columns;
    struct page_ramps *ramps;
    uint16_t *levels;
    struct writer frames_out, ramps_out;
};

static void show_clear(struct show *w)
{
    tc_player_destroy(w->player);
    ramper_destroy(w->ramper);
    flash_counter_destroy(w->flash);
    load_meter_destroy(w->load);
    columns_clear(&w->columns);
    page_ramps_destroy(w->ramps);
    tc_timeline_clear(&w->timeline);
    memory_free(w->levels);
    memory_free(w);
}

static enum tc_status show_open(struct show *w, struct tc_problem *why)
{
    size_t channels = core.rig.channel_count;
    uint16_t full = level_full(core.settings.levels);
    w->levels = memory_new(channels + 1, sizeof *w->levels);
    enum tc_status status = w->levels ? TC_OK : TC_ERR_MEMORY;
    if (status == TC_OK) status = tc_cue(&core.heard, &core.rig, &core.settings, NULL, &w->timeline, why);
    if (status == TC_OK) status = tc_player_create(&w->player, &w->timeline, &core.rig, &core.settings);
    if (status == TC_OK) status = ramper_create(&w->ramper, channels, full);
    if (status == TC_OK) status = flash_counter_create(&w->flash, &core.rig, full, core.settings.flash_limit);
    if (status == TC_OK) status = load_meter_create(&w->load, &core.rig, full);
    if (status == TC_OK) status = columns_create(&w->columns, channels, w->timeline.frames);
    if (status == TC_OK) status = page_ramps_create(&w->ramps, channels);
    return status;
}

static enum tc_status take_ready_ramps(struct show *w)
{
    struct ramp ramp;
    enum tc_status status = TC_OK;
    while (status == TC_OK && ramper_next(w->ramper, &ramp)) {
        ramps_write_row(&w->ramps_out, &ramp, &core.rig, &core.settings);
        status = page_ramps_add(w->ramps, &ramp);
    }
    return status;
}

static enum tc_status show_play(struct show *w)
{
    const struct tc_settings *s = &core.settings;
    int64_t start_ms = seconds_ms(s->shift_s), frame = 0;
    enum tc_status status = TC_OK;
    writer_begin(&w->frames_out, text(TEXT_FRAMES));
    writer_begin(&w->ramps_out, text(TEXT_RAMPS));
    struct frames_columns columns = frames_columns(&core.rig, s->outputs);
    frames_write_head(&w->frames_out, &core.rig, &columns);
    ramps_write_head(&w->ramps_out);
    for (; status == TC_OK && tc_player_step(w->player, w->levels); frame++) {
        int64_t at_ms = start_ms + frame_ms(frame, s->frame_rate);
        frames_write_row(&w->frames_out, at_ms, w->levels, &columns, (enum tc_levels)s->levels);
        flash_counter_step(w->flash, w->levels, 1000 * start_ms + frame_us(frame, s->frame_rate));
        load_meter_step(w->load, w->levels, at_ms);
        columns_step(&w->columns, w->levels, flash_counter_recent(w->flash));
        status = ramper_step(w->ramper, w->levels);
        if (status == TC_OK) status = take_ready_ramps(w);
    }
    if (status == TC_OK) status = ramper_flush(w->ramper);
    if (status == TC_OK) status = take_ready_ramps(w);
    if (status == TC_OK) status = writer_end(&w->frames_out);
    if (status == TC_OK) status = writer_end(&w->ramps_out);
    return status;
}

/* A timeline that repeats goes on with its own beginning: counted for more than a second after the end. */
static enum tc_status show_count_seam(struct show *w)
{
    int64_t rate = core.settings.frame_rate, start_us = 1000 * seconds_ms(core.settings.shift_s);
    int64_t frame = w->timeline.frames, until = frame + rate + 1;
    while (core.settings.loop && frame < until) {
        struct tc_player *again;
        enum tc_status status = tc_player_create(&again, &w->timeline, &core.rig, &core.settings);
        if (status != TC_OK) return status;
        for (; frame < until && tc_player_step(again, w->levels); frame++)
            flash_counter_step(w->flash, w->levels, start_us + frame_us(frame, rate));
        tc_player_destroy(again);
    }
    return TC_OK;
}

static enum tc_status show_tell(struct show *w)
{
    struct flash_report flash;
    struct load_report load;
    flash_counter_report(w->flash, &flash);
    flash.softened = player_softened(w->player);
    load_meter_report(w->load, &load);
    struct page_facts facts = {
        .title = "", .rig = &core.rig, .settings = &core.settings, .heard = &core.heard, .timeline = &w->timeline,
        .columns = &w->columns, .flash = &flash, .load = &load, .sound_kind = "none",
        .rig_text = core.made[TEXT_RIG].bytes, .mendable = core.heard.overview != NULL, /* heard here, by this core */
        .sound_late_s = flash_to_bang_s(core.settings.distance_m, core.settings.temperature_c),
    };
    enum tc_status status = page_data_write(text(TEXT_DATA), w->ramps, &facts);
    load_report_clear(&load);
    return status;
}

/* Cues the storm anew: data of the page, events.csv, frames.csv, ramps.csv, the settings file. */
int DOOR(core_cue)(void)
{
    struct tc_problem why = { 0 };
    struct show *w = memory_new(1, sizeof *w);
    if (!w) return tell(TC_ERR_MEMORY, NULL);
    core.heard.sensitivity = core.settings.sensitivity;
    enum tc_status status = show_open(w, &why);
    if (status == TC_OK) status = show_play(w);
    if (status == TC_OK) status = show_count_seam(w);
    if (status == TC_OK) status = show_tell(w);
    if (status == TC_OK) status = tc_events_write(&core.heard, text(TEXT_EVENTS));
    if (status == TC_OK) status = tc_settings_write(&core.settings, false, text(TEXT_SETTINGS));
    show_clear(w);
    return tell(status, &why);
}
