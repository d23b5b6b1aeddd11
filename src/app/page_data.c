#include "app/page_data.h"

#include <jansson.h>
#include <limits.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "app/values.h"
#include "words/settings.h"
#include "words/units.h"

/* The page by lines, made from src/page/; ended by NULL. */
extern const char *const page_lines[];

/* Together with the page's own text and the columns these keep a page under
 * 3 MB without its sound. Base64 makes them longer by a third. */
enum { RAMP_BYTES_MOST = 1500 * 1024, EVENTS_MOST = 7000, STROKES_MOST = 20000 };

struct preview {
    unsigned char *packed;   /* ramps as timeline.js unpacks them */
    size_t size, room;
    bool kept;               /* all of them so far */
    size_t count;
    uint32_t frame;          /* of the ramp before */
    uint16_t *held;          /* last end level of each channel */
};

enum tc_status preview_create(struct preview **out, size_t channels)
{
    struct preview *p = calloc(1, sizeof *p);
    if (!p) return TC_ERR_MEMORY;
    p->kept = true;
    if (!(p->held = calloc(channels + 1, sizeof *p->held))) {
        preview_destroy(p);
        return TC_ERR_MEMORY;
    }
    *out = p;
    return TC_OK;
}

void preview_destroy(struct preview *p)
{
    if (!p) return;
    free(p->packed);
    free(p->held);
    free(p);
}

/* Seven bits a byte, low ones first; the top bit says that more follow. */
static void pack(struct preview *p, uint32_t value)
{
    for (; value > 127; value >>= 7) p->packed[p->size++] = (unsigned char)(value | 128);
    p->packed[p->size++] = (unsigned char)value;
}

enum { RAMP_ROOM = 5 * 5 }; /* five numbers of at most five bytes */

enum tc_status preview_ramp(struct preview *p, const struct ramp *ramp)
{
    p->count++;
    if (!p->kept) return TC_OK;
    if (p->size + RAMP_ROOM > p->room) {
        if (p->room >= RAMP_BYTES_MOST) {
            p->kept = false;
            return TC_OK;
        }
        size_t room = p->room ? 2 * p->room : 4096;
        unsigned char *more = realloc(p->packed, room < RAMP_BYTES_MOST ? room : RAMP_BYTES_MOST);
        if (!more) return TC_ERR_MEMORY;
        p->packed = more;
        p->room = room < RAMP_BYTES_MOST ? room : RAMP_BYTES_MOST;
    }
    bool jumps = ramp->start_level != p->held[ramp->channel];
    pack(p, ramp->start - p->frame);
    pack(p, ramp->end - ramp->start);
    pack(p, 2u * ramp->channel + jumps);
    if (jumps) pack(p, ramp->start_level);
    pack(p, ramp->end_level);
    p->frame = ramp->start;
    p->held[ramp->channel] = ramp->end_level;
    return TC_OK;
}

/* ---- Pieces of data ---- */

static double seconds(int64_t ms)
{
    return (double)ms / 1000.0;
}

/* Adds to a list; NULL (and nothing left behind) once memory ran out. */
static json_t *append(json_t *all, json_t *value)
{
    if (!json_array_append_new(all, value)) return all;
    json_decref(all);
    return NULL;
}

static const char digits[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";

/* Three bytes to four characters; `count` 1..3, the rest padded (RFC 4648). */
static void base64_group(char to[4], const unsigned char *from, size_t count)
{
    uint32_t bits = (uint32_t)from[0] << 16;
    if (count > 1) bits |= (uint32_t)from[1] << 8;
    if (count > 2) bits |= from[2];
    for (int i = 0; i < 4; i++) to[i] = digits[bits >> (18 - 6 * i) & 63];
    if (count < 3) to[3] = '=';
    if (count < 2) to[2] = '=';
}

static json_t *base64(const unsigned char *bytes, size_t count)
{
    size_t length = (count + 2) / 3 * 4;
    char *made = calloc(length + 1, 1);
    if (!made) return NULL;
    for (size_t i = 0, o = 0; i < count; i += 3, o += 4)
        base64_group(made + o, bytes + i, count - i < 3 ? count - i : 3);
    json_t *j = json_stringn_nocheck(made, length);
    free(made);
    return j;
}

/* ---- The parts of the page's data; NULL where memory ran out ---- */

static json_t *channels_json(const struct tc_rig *rig)
{
    static const char *const curves[] = { "linear", "square", "lstar" };
    json_t *all = json_array();
    for (size_t i = 0; i < rig->channel_count; i++) {
        const struct tc_channel *c = &rig->channels[i];
        const char *circuit = c->circuit >= 0 ? rig->circuits[c->circuit].name : "";
        all = append(all, json_pack("{si so ss si so so ss so so}",
            "number", c->number, "name", value_text(c->name), "kind", c->kind == TC_FLOOD ? "flood" : "branch",
            "parent", c->parent >= 0 ? rig->channels[c->parent].number : 0,
            "watts", value_rounded(c->watts, 1000), "circuit", value_text(circuit), "curve", curves[c->curve],
            "min_level", value_rounded(c->min_level, 1000), "max_level", value_rounded(c->max_level, 1000)));
    }
    return all;
}

static json_t *circuits_json(const struct preview_facts *f, double shift_s)
{
    json_t *all = json_array();
    for (size_t i = 0; i < f->rig->circuit_count; i++) {
        const struct tc_circuit *c = &f->rig->circuits[i];
        const struct load_row *l = &f->load->circuits[i];
        all = append(all, json_pack("{so so so so so so so}",
            "name", value_text(c->name), "breaker_amps", value_rounded(c->breaker_amps, 100),
            "volts", value_rounded(c->volts, 100), "all_on_w", value_rounded(l->all_on_w, 10),
            "reached_w", value_rounded(l->reached_w, 10),
            "reached_at_s", value_rounded(seconds(l->reached_at_ms) - shift_s, 1000),
            "advice_w", value_rounded(f->advice_w[i], 10)));
    }
    return all;
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

/* [kind, start, end, peak, strength, sharpness, level]; in a very long storm
 * the strongest ones. */
static json_t *events_json(const struct tc_analysis *a)
{
    double least = least_strength_shown(a);
    json_t *all = json_array();
    for (size_t i = 0; i < a->event_count; i++) {
        const struct tc_event *e = &a->events[i];
        if ((double)e->strength < least) continue;
        all = append(all, json_pack("[iooooo o]", e->kind == TC_RUMBLE,
            value_rounded(seconds(e->start_ms), 1000), value_rounded(seconds(e->end_ms), 1000),
            value_rounded(seconds(e->peak_ms), 1000), value_rounded((double)e->strength, 100),
            value_rounded((double)e->sharpness, 100), value_rounded((double)e->level_dbfs, 10)));
    }
    return all;
}

static json_t *strokes_json(const struct tc_timeline *t)
{
    json_t *all = json_array();
    size_t each = t->stroke_count / STROKES_MOST + 1;
    for (size_t i = 0; i < t->stroke_count; i += each)
        all = append(all, value_rounded((double)t->strokes[i].frame / (double)t->frame_rate, 1000));
    return all;
}

static json_t *wave_json(const struct tc_overview *o)
{
    size_t count = o ? o->count : 0;
    return json_pack("{sI sf so}", "count", (json_int_t)count, "seconds_each",
                     o ? (double)o->steps_each / STEPS_A_SECOND : 1.0, "peak",
                     base64(o ? o->peak : (const unsigned char *)"", count));
}

/* Bands that the recording reaches: those above its Nyquist frequency stay out. */
static json_t *bands_json(const struct tc_overview *o)
{
    size_t count = o ? o->count : 0, bands = 0;
    for (size_t c = 0; c < count; c++)
        for (size_t b = bands; b < BAND_COUNT; b++)
            if (o->band[c][b]) bands = b + 1;
    unsigned char *levels = calloc(count * bands + 1, 1);
    if (!levels) return NULL;
    for (size_t c = 0; c < count; c++)
        if (bands) memcpy(levels + c * bands, o->band[c], bands);
    json_t *hz = json_array();
    for (size_t b = 0; b < bands; b++)
        hz = append(hz, value_rounded(BAND_LOWEST_HZ * pow(2, ((double)b + 0.5) / 2), 10));
    json_t *all = json_pack("{sI sf so so}", "count", (json_int_t)(bands ? count : 0), "seconds_each",
                            o ? (double)o->steps_each / STEPS_A_SECOND : 1.0, "hz", hz, "data",
                            base64(levels, count * bands));
    free(levels);
    return all;
}

static double seconds_each(const struct columns *c, int64_t frame_rate)
{
    return c->count ? (double)c->frames / (double)frame_rate / (double)c->count : 1.0;
}

/* Light per channel and column, only where the ramps don't fit in. */
static json_t *light_json(const struct preview *p, const struct preview_facts *f, uint16_t full)
{
    const struct columns *c = f->columns;
    size_t count = p->kept ? 0 : c->count;
    unsigned char *light = calloc(count * c->channels + 1, 1);
    if (!light) return NULL;
    for (size_t i = 0; i < c->channels && count; i++)
        for (size_t k = 0; k < count; k++)
            light[i * count + k] = (unsigned char)ceil(
                255 * channel_light(&f->rig->channels[i], 100.0 * c->level[k * c->channels + i] / full));
    json_t *all = json_pack("{sI sf so}", "count", (json_int_t)count, "seconds_each",
                            seconds_each(c, f->settings->frame_rate), "data",
                            base64(light, count * c->channels));
    free(light);
    return all;
}

static json_t *flash_json(const struct preview_facts *f, double shift_s)
{
    const struct columns *c = f->columns;
    return json_pack("{sI so so sI sf so s{sI sI}}", "limit", (json_int_t)f->settings->flash_limit,
                     "peak_count", value_rounded((double)f->flash->peak_transitions / 2, 10),
                     "peak_at_s", value_rounded(seconds(f->flash->peak_at_ms) - shift_s, 1000),
                     "count", (json_int_t)c->count, "seconds_each", seconds_each(c, f->settings->frame_rate),
                     "data", base64(c->flashes, c->count),
                     "changed", "softened", (json_int_t)f->flash->softened, "dropped",
                     (json_int_t)f->timeline->dropped);
}

static json_t *summary_json(const struct preview_facts *f, double shift_s)
{
    size_t cracks = 0;
    for (size_t i = 0; i < f->heard->event_count; i++) cracks += f->heard->events[i].kind == TC_CRACK;
    return json_pack("{sI sI sI so so so so}", "cracks", (json_int_t)cracks, "rumbles",
                     (json_int_t)(f->heard->event_count - cracks), "strokes",
                     (json_int_t)f->timeline->stroke_count,
                     "dark_share", value_rounded(1 - f->load->lit_share, 10000),
                     "longest_dark_s", value_rounded(seconds(f->load->longest_dark_ms), 1000),
                     "peak_load_w", value_rounded(f->load->rig.reached_w, 10),
                     "peak_load_at_s", value_rounded(seconds(f->load->rig.reached_at_ms) - shift_s, 1000));
}

/* [name, value, unit, true if it differs from its preset]. */
static json_t *settings_json(const struct tc_settings *s)
{
    struct tc_settings presets = tc_settings_default();
    json_t *all = json_array();
    for (size_t i = 0; i < setting_count(); i++) {
        const struct setting *row = setting_at(i);
        char value[32], preset[32];
        setting_value(row, s, value, sizeof value);
        setting_value(row, &presets, preset, sizeof preset);
        bool word = row->type == SETTING_CHOICE || (row->zero && !strcmp(value, row->zero));
        all = append(all, json_pack("[sss b]", row->name, value, word ? "" : row->unit,
                                    strcmp(value, preset) != 0));
    }
    return all;
}

static json_t *sound_json(const struct preview_facts *f)
{
    const char *kind = f->sound ? "embedded" : f->sound_link ? "file" : "none";
    return json_pack("{ss ss ss so}", "kind", kind, "type", f->sound ? f->sound_type : "",
                     "src", !f->sound && f->sound_link ? f->sound_link : "",
                     "offset_s", value_rounded(f->sound_late_s, 1000));
}

static json_t *notes_json(const struct preview_facts *f)
{
    json_t *all = json_array();
    for (size_t i = 0; f->notes && f->notes[i]; i++) all = append(all, value_text(f->notes[i]));
    if (f->heard->event_count > EVENTS_MOST)
        all = append(all, json_string("This storm has more cracks and rumbles than the page can hold: "
                                               "the strongest are shown, events.csv has all of them."));
    return all;
}

static json_t *page_data(const struct preview *p, const struct preview_facts *f)
{
    const struct tc_settings *s = f->settings;
    uint16_t full = s->levels == TC_LEVELS_PERCENT ? 1000 : 255;
    double shift_s = floor(s->shift_s * 1000 + 0.5) / 1000;
    json_t *root = json_object();
    const struct {
        const char *name;
        json_t *value;
    } parts[] = {
        { "form", json_integer(1) },
        { "program", json_string("thundercue " TC_VERSION) },
        { "title", value_text(f->title) },
        { "recording", value_text(f->recording ? f->recording : "from events alone") },
        { "duration_s", value_rounded((double)f->timeline->frames / (double)s->frame_rate, 1000) },
        { "frame_rate", json_integer(s->frame_rate) },
        { "start_s", value_rounded(shift_s, 1000) },
        { "sound", sound_json(f) },
        { "rig", json_pack("{so so so}", "name", value_text(f->rig->name), "channels", channels_json(f->rig),
                           "circuits", circuits_json(f, shift_s)) },
        { "events", events_json(f->heard) },
        { "strokes", strokes_json(f->timeline) },
        { "ramps", json_pack("{sI sb si so}", "count", (json_int_t)p->count, "kept", p->kept,
                             "full", (int)full, "packed", base64(p->packed, p->kept ? p->size : 0)) },
        { "wave", wave_json(f->heard->overview) },
        { "bands", bands_json(f->heard->overview) },
        { "light", light_json(p, f, full) },
        { "flash", flash_json(f, shift_s) },
        { "summary", summary_json(f, shift_s) },
        { "settings", settings_json(s) },
        { "command", value_text(f->command ? f->command : "") },
        { "notes", notes_json(f) },
    };
    bool whole = root != NULL;
    for (size_t i = 0; i < sizeof parts / sizeof *parts; i++) {
        if (!parts[i].value || !root) whole = false;
        if (root) json_object_set_new(root, parts[i].name, parts[i].value); /* takes it in any case */
        else json_decref(parts[i].value);
    }
    if (whole) return root;
    json_decref(root);
    return NULL;
}

/* ---- The page ---- */

/* JSON within a page: '<' occurs in strings alone, and escaped there it can't
 * end the element around it. */
static int put_safely(const char *from, size_t size, void *to)
{
    for (size_t i = 0; i < size; i++)
        if (from[i] == '<') fputs("\\u003c", to);
        else putc(from[i], to);
    return 0;
}

enum { LINE_GROUPS = 1024 };

static enum tc_status put_sound(FILE *out, FILE *sound)
{
    unsigned char bytes[3 * LINE_GROUPS];
    char line[4 * LINE_GROUPS + 1];
    size_t count;
    while ((count = fread(bytes, 1, sizeof bytes, sound)) > 0) {
        size_t o = 0;
        for (size_t i = 0; i < count; i += 3, o += 4)
            base64_group(line + o, bytes + i, count - i < 3 ? count - i : 3);
        line[o++] = '\n';
        fwrite(line, 1, o, out);
    }
    return ferror(sound) ? TC_ERR_READ : TC_OK;
}

enum tc_status preview_write(struct preview *p, FILE *out, const struct preview_facts *facts)
{
    json_t *data = page_data(p, facts);
    if (!data) return TC_ERR_MEMORY;
    enum tc_status status = TC_OK;
    for (const char *const *line = page_lines; *line && status == TC_OK; line++) {
        if (!strcmp(*line, "@data\n")) {
            if (json_dump_callback(data, put_safely, out,
                                   JSON_COMPACT | JSON_ENSURE_ASCII | JSON_REAL_PRECISION(12)))
                status = TC_ERR_MEMORY;
            putc('\n', out);
        } else if (!strcmp(*line, "@sound\n")) {
            if (facts->sound) status = put_sound(out, facts->sound);
        } else fputs(*line, out);
    }
    json_decref(data);
    return status;
}

/* ---- The way from a page to its recording ---- */

static void escape(char *to, const char *from)
{
    for (; *from; from++) {
        unsigned char c = (unsigned char)*from;
        bool plain = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9')
                     || strchr("-._~/", c);
        if (plain) *to++ = (char)c;
        else to += sprintf(to, "%%%02X", c);
    }
    *to = 0;
}

char *preview_link(const char *folder, const char *path)
{
    char *base = realpath(*folder ? folder : ".", NULL);
    char *file = realpath(path, NULL);
    char *link = NULL;
    if (!base || !file) goto done;

    /* The folders that both share, then one step up for each of the others. */
    size_t shared = 0, i = 0;
    for (; base[i] && base[i] == file[i]; i++)
        if (base[i] == '/') shared = i + 1;
    if (!base[i] && file[i] == '/') shared = i + 1;
    size_t ups = 0;
    for (const char *at = base + (shared < strlen(base) ? shared : strlen(base)); *at; at++)
        ups += *at == '/' || at == base + shared;
    const char *rest = file + shared;
    if (!(link = calloc(3 * ups + 3 * strlen(rest) + 3, 1))) goto done;
    strcpy(link, ups ? "" : "./");
    for (size_t k = 0; k < ups; k++) strcat(link, "../");
    escape(link + strlen(link), rest);
done:
    free(base);
    free(file);
    return link;
}
