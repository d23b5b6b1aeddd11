/* The page's door to the library: what page/core.js calls in the WebAssembly
 * build. One storm, one rig, one set of settings; after core_cue the texts
 * below are those that the program would write for them. Times are whole
 * milliseconds, handed over as doubles, which hold them exactly. */
#include <math.h>
#include <string.h>

#include "page/analysis.h"
#include "page/data.h"
#include "show/showing.h"
#include "words/memory.h"
#include "words/settings.h"
#include "words/status.h"
#include "words/units.h"
#include "writing/columns.h"

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

/* Bytes as page/analysis.c packs them. */
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

/* ---- Cueing ---- */

/* What one cueing holds. */
struct cueing {
    struct tc_timeline timeline;
    struct shown shown;
    struct columns columns;
    struct page_ramps *ramps;
};

static enum tc_status cueing_play(struct cueing *w, bool files)
{
    const struct tc_sink frames = text(TEXT_FRAMES), ramps = text(TEXT_RAMPS);
    enum tc_status status = page_ramps_create(&w->ramps, core.rig.channel_count);
    if (status != TC_OK) return status;
    return showing_run(&(struct showing){ .timeline = &w->timeline, .rig = &core.rig, .settings = &core.settings,
                                          .frames = files ? &frames : NULL, .ramps = files ? &ramps : NULL, .ramp = page_ramps_add, .ramp_to = w->ramps,
                                          .shown = &w->shown, .columns = &w->columns });
}

static enum tc_status cueing_tell(const struct cueing *w)
{
    struct page_facts facts = {
        .title = "", .rig = &core.rig, .settings = &core.settings, .heard = &core.heard, .timeline = &w->timeline,
        .columns = &w->columns, .flash = &w->shown.flash, .load = &w->shown.load, .sound_kind = "none",
        .rig_text = core.made[TEXT_RIG].bytes, .closed = core.heard.overview ? NULL : "", /* what was not heard by this core, the page has already */
        .sound_late_s = flash_to_bang_s(core.settings.distance_m, core.settings.temperature_c),
    };
    return page_data_write(text(TEXT_DATA), w->ramps, &facts);
}

static void cueing_clear(struct cueing *w)
{
    tc_timeline_clear(&w->timeline);
    shown_clear(&w->shown);
    columns_clear(&w->columns);
    page_ramps_destroy(w->ramps);
}

/* Cues the storm anew: data of the page, events.csv, the settings file and, if `files` is not 0, frames.csv and ramps.csv,
 * which are long. */
int DOOR(core_cue)(int files)
{
    struct tc_problem why = { 0 };
    struct cueing w = { .ramps = NULL };
    core.heard.sensitivity = core.settings.sensitivity;
    enum tc_status status = tc_cue(&core.heard, &core.rig, &core.settings, NULL, &w.timeline, &why);
    if (status == TC_OK) status = cueing_play(&w, files);
    if (status == TC_OK) status = cueing_tell(&w);
    if (status == TC_OK) status = tc_events_write(&core.heard, text(TEXT_EVENTS));
    if (status == TC_OK) status = tc_settings_write(&core.settings, false, text(TEXT_SETTINGS));
    cueing_clear(&w);
    return tell(status, &why);
}
