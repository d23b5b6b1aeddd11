#include "page/data.h"

#include <math.h>
#include <string.h>

#include "light/reached.h"
#include "page/analysis.h"
#include "page/json.h"
#include "rig/dimmer.h"
#include "rig/load.h"
#include "rig/rig_keys.h"
#include "words/memory.h"
#include "words/settings.h"
#include "words/units.h"

/* Together with the page's own text and the overview these keep a page under
 * 3 MB without its sound. The light, by ramps or by columns, and the analysis share LARGE_MOST. */
enum { EVENTS_MOST = 7000, STROKES_MOST = 20000, LARGE_MOST = 1380 * 1000 };

/* ---- The parts of the data ---- */

static void put_ms(struct json *j, const char *key, int64_t ms)
{
    json_number(j, key, (double)ms / 1000, 3);
}

/* Where it hangs, as far as the rig file says. */
static void put_places(struct json *j, const struct tc_channel *c)
{
    if (c->placed) {
        json_number(j, "x", c->x, 3);
        json_number(j, "y", c->y, 3);
    }
    if (c->start_placed) {
        json_number(j, "start_x", c->start_x, 3);
        json_number(j, "start_y", c->start_y, 3);
    }
    if (c->fork > 0) json_number(j, "fork", c->fork, 3);
}

static void put_channels(struct json *j, const struct tc_rig *rig)
{
    json_open(j, "channels", '[');
    for (size_t i = 0; i < rig->channel_count; i++) {
        const struct tc_channel *c = &rig->channels[i];
        json_open(j, NULL, '{');
        json_whole(j, "number", c->number);
        json_text(j, "name", c->name);
        json_text(j, "kind", rig_kind_word(c->kind));
        json_whole(j, "parent", c->parent >= 0 ? rig->channels[c->parent].number : 0);
        json_number(j, "watts", c->watts, 3);
        json_text(j, "circuit", c->circuit >= 0 ? rig->circuits[c->circuit].name : "");
        json_text(j, "curve", rig_curve_word(c->curve));
        json_number(j, "min_level", c->min_level, 3);
        json_number(j, "max_level", c->max_level, 3);
        put_places(j, c);
        json_close(j, '}');
    }
    json_close(j, ']');
}

static void put_circuits(struct json *j, const struct page_facts *f, double shift_s)
{
    json_open(j, "circuits", '[');
    for (size_t i = 0; i < f->rig->circuit_count; i++) {
        const struct tc_circuit *c = &f->rig->circuits[i];
        const struct load_row *l = &f->load->circuits[i];
        json_open(j, NULL, '{');
        json_text(j, "name", c->name);
        json_number(j, "breaker_amps", c->breaker_amps, 2);
        json_number(j, "volts", c->volts, 2);
        json_number(j, "all_on_w", l->all_on_w, 1);
        json_number(j, "reached_w", l->reached_w, 1);
        json_number(j, "reached_at_s", (double)l->reached_at_ms / 1000 - shift_s, 3);
        json_number(j, "advice_w", circuit_advice_w(c), 1);
        json_close(j, '}');
    }
    json_close(j, ']');
}

static void put_rig(struct json *j, const struct page_facts *f, double shift_s)
{
    json_open(j, "rig", '{');
    json_text(j, "name", f->rig->name);
    if (!f->closed) json_text(j, "text", f->rig_text ? f->rig_text : "");
    put_channels(j, f->rig);
    put_circuits(j, f, shift_s);
    json_close(j, '}');
}

static double least_strength_shown(const struct tc_analysis *a)
{
    size_t at[101] = { 0 };
    for (size_t i = 0; i < a->event_count; i++) {
        double s = (double)a->events[i].strength;
        at[(int)(100 * (s < 0 ? 0 : s > 1 ? 1 : s) + 0.5)]++;
    }
    size_t sum = 0;
    for (int k = 100; k >= 0; k--)
        if ((sum += at[k]) > EVENTS_MOST) return (k + 0.5) / 100;
    return -1;
}

/* [kind, start, end, peak, strength, sharpness, level], and for a crack in
 * somebody's hand [..., strokes, [path]]; in a very long storm the strongest ones. */
static void put_events(struct json *j, const char *key, const struct tc_analysis *a)
{
    double least = least_strength_shown(a);
    json_open(j, key, '[');
    for (size_t i = 0; i < a->event_count; i++) {
        const struct tc_event *e = &a->events[i];
        if ((double)e->strength < least) continue;
        json_open(j, NULL, '[');
        json_whole(j, NULL, e->kind == TC_RUMBLE);
        put_ms(j, NULL, e->start_ms);
        put_ms(j, NULL, e->end_ms);
        put_ms(j, NULL, e->peak_ms);
        json_number(j, NULL, (double)e->strength, 2);
        json_number(j, NULL, (double)e->sharpness, 2);
        json_number(j, NULL, (double)e->level_dbfs, 1);
        if (e->strokes || e->path_count) {
            json_whole(j, NULL, e->strokes);
            json_open(j, NULL, '[');
            for (int k = 0; k < e->path_count; k++) json_whole(j, NULL, e->path[k]);
            json_close(j, ']');
        }
        json_close(j, ']');
    }
    json_close(j, ']');
}

static void put_strokes(struct json *j, const struct tc_timeline *t)
{
    size_t each = t->stroke_count / STROKES_MOST + 1;
    json_open(j, "strokes", '[');
    for (size_t i = 0; i < t->stroke_count; i += each)
        json_number(j, NULL, (double)t->strokes[i].frame / (double)t->frame_rate, 3);
    json_close(j, ']');
}

/* Cracks whose first stroke the flash limit holds back: how many, and their starts. */
static enum tc_status put_dimmed(struct json *j, const struct page_facts *f, size_t *count)
{
    uint32_t *which = NULL;
    enum tc_status status = TC_OK;
    *count = 0;
    if (f->flash->softened) status = cracks_held_back(f->timeline, f->heard->events, f->rig, f->settings, NULL, &which, count);
    if (status != TC_OK) return status;
    json_open(j, "dimmed", '[');
    for (size_t i = 0; i < *count && i < EVENTS_MOST; i++) put_ms(j, NULL, f->heard->events[which[i]].start_ms);
    json_close(j, ']');
    memory_free(which);
    return TC_OK;
}

static double overview_seconds_each(const struct tc_overview *o)
{
    return o ? (double)o->steps_each / STEPS_A_SECOND : 1;
}

static void put_wave(struct json *j, const struct tc_overview *o)
{
    json_open(j, "wave", '{');
    json_whole(j, "count", o ? (int64_t)o->count : 0);
    json_number(j, "seconds_each", overview_seconds_each(o), 3);
    json_bytes(j, "peak", o ? o->peak : (const unsigned char *)"", o ? o->count : 0);
    json_close(j, '}');
}

/* Bands that the recording reaches: those above its Nyquist frequency stay out. */
static enum tc_status put_bands(struct json *j, const struct tc_overview *o)
{
    size_t count = o ? o->count : 0, bands = 0;
    for (size_t c = 0; c < count; c++)
        for (size_t b = bands; b < BAND_COUNT; b++)
            if (o->band[c][b]) bands = b + 1;
    unsigned char *levels = memory_new(count * bands + 1, 1);
    if (!levels) return TC_ERR_MEMORY;
    for (size_t c = 0; c < count; c++)
        if (bands) memcpy(levels + c * bands, o->band[c], bands);
    json_open(j, "bands", '{');
    json_whole(j, "count", bands ? (int64_t)count : 0);
    json_number(j, "seconds_each", overview_seconds_each(o), 3);
    json_open(j, "hz", '[');
    for (size_t b = 0; b < bands; b++) json_number(j, NULL, BAND_LOWEST_HZ * pow(2, ((double)b + 0.5) / 2), 1);
    json_close(j, ']');
    json_bytes(j, "data", levels, count * bands);
    json_close(j, '}');
    memory_free(levels);
    return TC_OK;
}

static double column_seconds(const struct columns *c, int64_t frame_rate)
{
    return c->count ? (double)c->frames / (double)frame_rate / (double)c->count : 1.0;
}

/* Light per channel and column, only where the ramps don't fit in. */
static enum tc_status put_light(struct json *j, bool by_columns, const struct page_facts *f, uint16_t full)
{
    const struct columns *c = f->columns;
    size_t count = by_columns ? c->count : 0;
    unsigned char *light = memory_new(count * c->channels + 1, 1);
    if (!light) return TC_ERR_MEMORY;
    for (size_t i = 0; i < c->channels && count; i++)
        for (size_t k = 0; k < count; k++)
            light[i * count + k] = (unsigned char)ceil(
                255 * channel_light(&f->rig->channels[i], 100.0 * c->level[k * c->channels + i] / full));
    json_open(j, "light", '{');
    json_whole(j, "count", (int64_t)count);
    json_number(j, "seconds_each", column_seconds(c, f->settings->frame_rate), 9);
    json_bytes(j, "data", light, count * c->channels);
    json_close(j, '}');
    memory_free(light);
    return TC_OK;
}

static void put_flash(struct json *j, const struct page_facts *f, double shift_s)
{
    const struct columns *c = f->columns;
    json_open(j, "flash", '{');
    json_whole(j, "limit", f->settings->flash_limit);
    json_number(j, "peak_count", (double)f->flash->peak_transitions / 2, 1);
    json_number(j, "peak_at_s", (double)f->flash->peak_at_ms / 1000 - shift_s, 3);
    json_whole(j, "count", (int64_t)c->count);
    json_number(j, "seconds_each", column_seconds(c, f->settings->frame_rate), 9);
    json_bytes(j, "data", c->flashes, c->count);
    json_open(j, "changed", '{');
    json_whole(j, "softened", (int64_t)f->flash->softened);
    json_whole(j, "dropped", (int64_t)f->timeline->dropped);
    json_close(j, '}');
    json_close(j, '}');
}

/* Strokes held back are none that anybody sees: the printed report leaves them out too. */
static void put_summary(struct json *j, const struct page_facts *f, double shift_s, size_t held_back)
{
    size_t cracks = 0;
    for (size_t i = 0; i < f->heard->event_count; i++) cracks += f->heard->events[i].kind == TC_CRACK;
    json_open(j, "summary", '{');
    json_whole(j, "cracks", (int64_t)cracks);
    json_whole(j, "rumbles", (int64_t)(f->heard->event_count - cracks));
    json_whole(j, "strokes", (int64_t)(f->timeline->stroke_count - held_back));
    json_whole(j, "held_back", (int64_t)held_back);
    json_number(j, "dark_share", 1 - f->load->lit_share, 4);
    put_ms(j, "longest_dark_s", f->load->longest_dark_ms);
    json_number(j, "peak_load_w", f->load->rig.reached_w, 1);
    json_number(j, "peak_load_at_s", (double)f->load->rig.reached_at_ms / 1000 - shift_s, 3);
    json_close(j, '}');
}

/* [name, value, unit, true if it differs from its default]. */
static void put_settings(struct json *j, const struct tc_settings *s)
{
    struct tc_settings presets = tc_settings_default();
    json_open(j, "settings", '[');
    for (size_t i = 0; i < setting_count(); i++) {
        const struct setting *row = setting_at(i);
        char value[32], preset[32];
        setting_value(row, s, value, sizeof value);
        setting_value(row, &presets, preset, sizeof preset);
        bool word = row->type == SETTING_CHOICE || (row->zero && (*value < '0' || *value > '9'));
        json_open(j, NULL, '[');
        json_text(j, NULL, row->name);
        json_text(j, NULL, value);
        json_text(j, NULL, word ? "" : row->unit);
        json_flag(j, NULL, strcmp(value, preset) != 0);
        json_close(j, ']');
    }
    json_close(j, ']');
}

static void put_sound(struct json *j, const struct page_facts *f)
{
    json_open(j, "sound", '{');
    json_text(j, "kind", f->sound_kind);
    json_text(j, "type", f->sound_type ? f->sound_type : "");
    json_flag(j, "own", f->sound_own);
    json_text(j, "src", f->sound_link ? f->sound_link : "");
    json_number(j, "offset_s", f->sound_late_s, 3);
    json_close(j, '}');
}

static void put_notes(struct json *j, const struct page_facts *f)
{
    json_open(j, "notes", '[');
    for (size_t i = 0; f->notes && f->notes[i]; i++) json_text(j, NULL, f->notes[i]);
    if (f->heard->event_count > EVENTS_MOST)
        json_text(j, NULL, "This storm has more cracks and rumbles than the page can hold: "
                           "the strongest are shown, events.csv has all of them.");
    json_close(j, ']');
}

/* ---- What cueing anew takes ---- */

/* Whether the ramps go in whole, and the analysis; light by columns takes the place of the ramps. */
struct room {
    bool ramps, analysis;
};

static struct room room_of(const struct page_ramps *ramps, const struct page_facts *f)
{
    size_t analysis = page_analysis_size(f->heard), columns = f->columns->count * f->columns->channels;
    struct room room = { .ramps = page_ramps_kept(ramps) };
    if (f->closed || f->heard->event_count > EVENTS_MOST) return room;
    if (room.ramps && page_ramps_size(ramps) + analysis <= LARGE_MOST) room.analysis = true;
    else if (columns + analysis <= LARGE_MOST) room = (struct room){ .ramps = false, .analysis = true };
    return room;
}

static enum tc_status put_analysis(struct json *j, const struct page_facts *f, bool has_room)
{
    const struct tc_analysis *a = f->heard;
    size_t size = page_analysis_size(a);
    const char *closed = f->closed;
    if (!closed && !has_room)
        closed = "this storm is too long to be changed in a page (eight hours at 40 light frames a second, or 7,000 cracks and "
                 "rumbles, are about the most); change its events.csv and cue it again with --events";
    if (closed) {
        if (*closed) json_text(j, "closed", closed);
        return TC_OK;
    }
    unsigned char *bytes = memory_new(size, 1);
    if (!bytes) return TC_ERR_MEMORY;
    page_analysis_pack(a, bytes);
    json_bytes(j, "analysis", bytes, size);
    memory_free(bytes);
    return TC_OK;
}

/* ---- Lists for the page's core ---- */

static enum tc_status write_alone(struct tc_sink to, void (*put)(struct json *, const struct tc_analysis *),
                                  const struct tc_analysis *a)
{
    struct json *j = memory_new(1, sizeof *j);
    if (!j) return TC_ERR_MEMORY;
    writer_begin(&j->to, to);
    put(j, a);
    enum tc_status status = writer_end(&j->to);
    memory_free(j);
    return status;
}

static void put_events_alone(struct json *j, const struct tc_analysis *a)
{
    put_events(j, NULL, a);
}

enum tc_status page_events_write(struct tc_sink to, const struct tc_analysis *a)
{
    return write_alone(to, put_events_alone, a);
}

static void put_table(struct json *j, const struct tc_analysis *a)
{
    static const char *const types[] = { "number", "whole", "choice", "switch" };
    (void)a;
    json_open(j, NULL, '[');
    for (size_t i = 0; i < setting_count(); i++) {
        const struct setting *row = setting_at(i);
        json_open(j, NULL, '{');
        json_text(j, "name", row->name);
        json_text(j, "type", types[row->type]);
        json_text(j, "topic", setting_topic_title(row->topic));
        json_number(j, "preset", row->preset, 6);
        json_number(j, "least", row->least, 6);
        json_number(j, "most", fmin(row->most, 1e12), 6);
        json_text(j, "unit", row->unit);
        json_text(j, "zero", row->zero ? row->zero : "");
        json_text(j, "help", row->help);
        json_close(j, '}');
    }
    json_close(j, ']');
}

enum tc_status page_settings_table(struct tc_sink to)
{
    return write_alone(to, put_table, NULL);
}

/* ---- All of it ---- */

enum tc_status page_data_write(struct tc_sink to, const struct page_ramps *ramps, const struct page_facts *f)
{
    const struct tc_settings *s = f->settings;
    uint16_t full = level_full(s->levels);
    double shift_s = (double)seconds_ms(s->shift_s) / 1000;
    struct json *j = memory_new(1, sizeof *j);
    if (!j) return TC_ERR_MEMORY;
    writer_begin(&j->to, to);
    json_open(j, NULL, '{');
    json_whole(j, "form", 1);
    json_text(j, "program", "thundercue " TC_VERSION);
    json_text(j, "title", f->title);
    json_text(j, "recording", f->recording ? f->recording : "from events alone");
    json_number(j, "duration_s", (double)f->timeline->frames / (double)s->frame_rate, 3);
    put_ms(j, "length_s", f->heard->length_ms);
    json_whole(j, "frame_rate", s->frame_rate);
    json_number(j, "start_s", shift_s, 3);
    put_sound(j, f);
    put_rig(j, f, shift_s);
    put_events(j, "events", f->heard);
    put_strokes(j, f->timeline);
    struct room room = room_of(ramps, f);
    page_ramps_put(j, ramps, full, room.ramps);
    put_wave(j, f->heard->overview);
    size_t held_back;
    enum tc_status status = put_dimmed(j, f, &held_back);
    if (status == TC_OK) status = put_bands(j, f->heard->overview);
    if (status == TC_OK) status = put_light(j, !room.ramps, f, full);
    if (status == TC_OK) status = put_analysis(j, f, room.analysis);
    put_flash(j, f, shift_s);
    put_summary(j, f, shift_s, held_back);
    put_settings(j, s);
    json_text(j, "command", f->command ? f->command : "");
    put_notes(j, f);
    if (f->part.put) f->part.put(j, f->part.of);
    json_close(j, '}');
    enum tc_status written = writer_end(&j->to);
    memory_free(j);
    return status != TC_OK ? status : written;
}
