/* The page's door to the library: what page/core.js calls in the WebAssembly
 * build. One storm, one rig, one set of settings; after core_cue the texts
 * below are those that the program would write for them. Times are whole
 * milliseconds, handed over as doubles, which hold them exactly. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "page/analysis.h"
#include "page/command.h"
#include "page/data.h"
#include "rig/rig_keep.h"
#include "show/showing.h"
#include "words/memory.h"
#include "words/settings.h"
#include "words/status.h"
#include "words/units.h"
#include "writing/columns.h"

#define DOOR(name) __attribute__((export_name(#name))) name

enum text { TEXT_PROBLEM, TEXT_DATA, TEXT_EVENTS, TEXT_FRAMES, TEXT_RAMPS, TEXT_SETTINGS, TEXT_TABLE, TEXT_CHOSEN, TEXT_RIG, TEXT_RIG_WRITTEN, TEXT_COMMAND, TEXT_RIG_KEPT, TEXT_COUNT };

struct text_made {
    char *bytes;
    size_t size, room;
};

/* What a rig file is called here, in messages and where it gives no name. */
#define RIG_SHOWN "rig"

/* What a page says of itself that no cueing knows, as texts one after the other, each with its zero (core_about). */
enum about { ABOUT_TITLE, ABOUT_RECORDING, ABOUT_KIND, ABOUT_TYPE, ABOUT_LINK, ABOUT_OWN, ABOUT_RIG_NAME, ABOUT_COMMAND,
             ABOUT_CUED, ABOUT_EVENTS, ABOUT_RIG, ABOUT_NOTES };
enum { ABOUT_MOST = ABOUT_NOTES + 8 };

/* A page has one core, and a core one storm: the state that the page works on. */
static struct {
    struct tc_settings settings;
    struct tc_rig rig;
    bool rig_kept;
    struct tc_analysis heard;
    struct tc_listener *ear;
    struct text_made made[TEXT_COUNT];
    char *about_bytes;
    const char *about[ABOUT_MOST + 1];
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

/* The defaults, and over them "name = value" lines; what differs from the defaults is text(TEXT_SETTINGS). */
int DOOR(core_settings)(const char *lines, size_t size)
{
    struct tc_problem why = { 0 };
    struct tc_settings s = tc_settings_default();
    enum tc_status status = tc_settings_read(lines, size, "settings", &s, &why);
    if (status == TC_OK) status = tc_settings_check(&s, &why);
    if (status == TC_OK) status = tc_settings_write(&s, false, text(TEXT_SETTINGS), &why);
    if (status == TC_OK) core.settings = s;
    return tell(status, &why);
}

/* Without text the built-in one. The rig that is there stays if the text is wrong. */
int DOOR(core_rig)(const char *lines, size_t size)
{
    struct tc_problem why = { 0 };
    struct tc_rig rig;
    enum tc_status status = size ? tc_rig_read(lines, size, RIG_SHOWN, &rig, &why) : tc_rig_builtin(&rig);
    if (status != TC_OK) return tell(status, &why);
    tc_rig_clear(&core.rig);
    core.rig = rig;
    if ((status = tc_rig_write(&rig, text(TEXT_RIG_WRITTEN), &why)) != TC_OK) return tell(status, &why);
    text(TEXT_RIG);
    take_bytes(&core.made[TEXT_RIG], lines, size);
    take_bytes(&core.made[TEXT_RIG], "", 1);
    return TC_OK;
}

/* The rig that is there as text(TEXT_RIG_KEPT), in a rig file's own text as far as that can be (rig/rig_keep.h). */
int DOOR(core_rig_keep)(const char *lines, size_t size)
{
    struct tc_problem why = { 0 };
    return tell(rig_keep(&core.rig, lines, size, RIG_SHOWN, text(TEXT_RIG_KEPT), &core.rig_kept, &why), &why);
}

int DOOR(core_rig_kept)(void)
{
    return core.rig_kept;
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

/* The overview of what was heard, for core_analysis: bytes as page/analysis.c takes them. */
int DOOR(core_overview)(const unsigned char *bytes, size_t size)
{
    return tell(page_overview_unpack(&core.heard, bytes, size), NULL);
}

/* Texts in the order of enum about; the notes last, as many as there are. ABOUT_COMMAND is the command that made the page,
 * or empty where the storm was changed: then it is told from ABOUT_CUED (the recording), ABOUT_EVENTS and ABOUT_RIG. */
int DOOR(core_about)(const char *texts, size_t size)
{
    char *bytes = memory_new(size + 1, 1);
    if (!bytes) return tell(TC_ERR_MEMORY, NULL);
    memcpy(bytes, texts, size);
    memory_free(core.about_bytes);
    core.about_bytes = bytes;
    memset(core.about, 0, sizeof core.about);
    for (size_t at = 0, n = 0; at < size && n < ABOUT_MOST; at += strlen(bytes + at) + 1) core.about[n++] = bytes + at;
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

static enum tc_status cueing_play(struct cueing *w, bool files, struct tc_problem *why)
{
    const struct tc_sink frames = text(TEXT_FRAMES), ramps = text(TEXT_RAMPS);
    enum tc_status status = page_ramps_create(&w->ramps, core.rig.channel_count);
    if (status != TC_OK) return status;
    return showing_run(&(struct showing){ .timeline = &w->timeline, .rig = &core.rig, .settings = &core.settings,
                                          .frames = files ? &frames : NULL, .ramps = files ? &ramps : NULL, .ramp = page_ramps_add, .ramp_to = w->ramps,
                                          .shown = &w->shown, .columns = &w->columns }, why);
}

static const char *about(enum about which)
{
    return core.about[which] ? core.about[which] : "";
}

/* The command that makes this page again. */
static const char *command(void)
{
    if (*about(ABOUT_COMMAND)) return about(ABOUT_COMMAND);
    const char *words[5] = { "cue" };
    size_t count = 1;
    if (*about(ABOUT_CUED)) words[count++] = about(ABOUT_CUED);
    if (*about(ABOUT_EVENTS)) words[count++] = "--events";
    if (*about(ABOUT_EVENTS)) words[count++] = about(ABOUT_EVENTS);
    struct tc_sink to = text(TEXT_COMMAND);
    if (page_command_write(to, words, *about(ABOUT_RIG) ? about(ABOUT_RIG) : NULL, &core.settings) != TC_OK) return "";
    return take_bytes(to.to, "", 1) == TC_OK ? core.made[TEXT_COMMAND].bytes : "";
}

/* The notes of the page as it was, but for that which follows from the light. */
static void find_notes(const struct cueing *w, const char *notes[ABOUT_MOST + 2])
{
    size_t count = 0;
    bool dark = false;
    for (size_t i = ABOUT_NOTES; i < ABOUT_MOST && core.about[i]; i++)
        if (strcmp(core.about[i], PAGE_NEVER_LIT)) notes[count++] = core.about[i];
    for (size_t c = 0; c < core.rig.channel_count; c++) dark |= !w->shown.lit[c];
    if (dark) notes[count++] = PAGE_NEVER_LIT;
    notes[count] = NULL;
}

/* With `whole`, all that a page carries; else without what the page has already. */
static enum tc_status cueing_tell(const struct cueing *w, bool whole)
{
    const char *notes[ABOUT_MOST + 2];
    find_notes(w, notes);
    struct tc_analysis heard = core.heard;
    struct tc_rig rig = core.rig;
    if (!whole) heard.overview = NULL;
    if (*about(ABOUT_RIG_NAME) && !strcmp(rig.name, RIG_SHOWN)) snprintf(rig.name, sizeof rig.name, "%s", about(ABOUT_RIG_NAME));
    struct page_facts facts = {
        .title = about(ABOUT_TITLE), .recording = about(ABOUT_RECORDING), .command = command(), .rig = &rig,
        .settings = &core.settings, .heard = &heard, .timeline = &w->timeline,
        .columns = &w->columns, .flash = &w->shown.flash, .load = &w->shown.load,
        .sound_kind = *about(ABOUT_KIND) ? about(ABOUT_KIND) : "none", .sound_type = about(ABOUT_TYPE),
        .sound_link = about(ABOUT_LINK), .sound_own = *about(ABOUT_OWN), .notes = notes,
        .rig_text = core.made[TEXT_RIG].bytes, .closed = whole ? NULL : "",
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

/* What core_cue is to make besides. */
enum { CUE_FILES = 1, CUE_WHOLE = 2 };

/* Cues the storm anew: data of the page, events.csv, the settings file; with CUE_FILES frames.csv and ramps.csv, which are
 * long, with CUE_WHOLE the data as a page carries it. */
int DOOR(core_cue)(int more)
{
    struct tc_problem why = { 0 };
    struct cueing w = { .ramps = NULL };
    core.heard.sensitivity = core.settings.sensitivity;
    enum tc_status status = tc_cue(&core.heard, &core.rig, &core.settings, NULL, &w.timeline, &why);
    if (status == TC_OK) status = cueing_play(&w, more & CUE_FILES, &why);
    if (status == TC_OK) status = cueing_tell(&w, more & CUE_WHOLE);
    if (status == TC_OK) status = tc_events_write(&core.heard, text(TEXT_EVENTS), &why);
    if (status == TC_OK) status = tc_settings_write(&core.settings, false, text(TEXT_SETTINGS), &why);
    cueing_clear(&w);
    return tell(status, &why);
}
