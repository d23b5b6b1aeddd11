#include "rig/rig_text.h"

#include <ini.h>

#include <errno.h>
#include <stdarg.h>
#include <string.h>

#include "words/memory.h"
#include "words/numbers.h"
#include "words/status.h"
#include "words/text.h"

#define COUNT(table) (sizeof(table) / sizeof *(table))

/* ---- What a rig file may say ---- */

enum key_type {
    KEY_TEXT,    /* char[TC_NAME_SIZE] */
    KEY_NUMBER,  /* double */
    KEY_WHOLE,   /* int */
    KEY_PARENT,  /* int; empty = 0, a root */
    KEY_CHOICE,  /* int: which of the words */
    KEY_SHARE,   /* double: one of the words, or a number */
};

/* A word for a value. */
struct word {
    const char *name;
    double value;
};

struct key {
    const char *name;
    enum key_type type;
    size_t offset;            /* keys of one section with the same offset are one quantity in several units */
    double least, most;       /* bounds, in the key's own unit */
    double factor;            /* from the key's unit to the model's */
    const struct word *words; /* ended by one without a name */
    const char *example;      /* not NULL: the key must be there, and this is one */
};

static const struct word kinds[] = { { "branch", TC_BRANCH }, { "flood", TC_FLOOD }, { 0 } };
static const struct word curves[] = {
    { "linear", TC_CURVE_LINEAR }, { "square", TC_CURVE_SQUARE }, { "lstar", TC_CURVE_LSTAR }, { 0 },
};
static const struct word lamps[] = { { "led", TC_LAMP_LED }, { "incandescent", TC_LAMP_INCANDESCENT }, { 0 } };
/* Strength that a knot leaves, the lower end of what rope handbooks give;
 * "unknown" is the worst of them (up to half is lost). */
static const struct word knots[] = {
    { "figure-8", 0.75 }, { "bowline", 0.70 }, { "clove-hitch", 0.60 }, { "unknown", 0.50 }, { 0 },
};

struct tc_channel rig_file_channel(void)
{
    return (struct tc_channel){ .parent = -1, .group = -1, .max_level = 100 }; /* an LED, linear */
}

/* Choices are written as int. */
_Static_assert(TC_CURVE_LINEAR == 0 && TC_LAMP_LED == 0, "a channel is that if nothing is said");
_Static_assert(sizeof(enum tc_channel_kind) == sizeof(int) && sizeof(enum tc_curve) == sizeof(int)
               && sizeof(enum tc_lamp) == sizeof(int), "enumerations are as wide as int");

/* Exact by definition: the international foot, inch and pound, the standard acceleration of gravity. */
#define M_PER_FT 0.3048
#define M_PER_IN 0.0254
#define N_PER_KG 9.80665
#define N_PER_LB (0.45359237 * N_PER_KG)

#define IN_RIG(f)     offsetof(struct tc_rig, f)
#define IN_CIRCUIT(f) offsetof(struct tc_circuit, f)
#define IN_CHANNEL(f) offsetof(struct channel_draft, f)
#define IN_BANK(f)    offsetof(struct tc_bank, f)
#define IN_LINE(f)    offsetof(struct tc_overhead, f)

static const struct key rig_keys[] = {
    { "name",        KEY_TEXT,   IN_RIG(name),        0, 0, 1, NULL, NULL },
    { "mains_volts", KEY_NUMBER, IN_RIG(mains_volts), 5, 600, 1, NULL, NULL },
    { "mains_hz",    KEY_NUMBER, IN_RIG(mains_hz),    40, 70, 1, NULL, NULL },
};

static const struct key circuit_keys[] = {
    { "breaker_amps", KEY_NUMBER, IN_CIRCUIT(breaker_amps), 0.5, 400, 1, NULL, "breaker_amps = 15" },
    { "volts",        KEY_NUMBER, IN_CIRCUIT(volts),        5, 600, 1, NULL, NULL },
};

static const struct key channel_keys[] = {
    { "name",           KEY_TEXT,   IN_CHANNEL(is.name),        0, 0, 1, NULL, NULL },
    { "kind",           KEY_CHOICE, IN_CHANNEL(is.kind),        0, 0, 1, kinds, "kind = branch, or kind = flood" },
    { "parent",         KEY_PARENT, IN_CHANNEL(parent),         1, TC_MAX_CHANNELS, 1, NULL, NULL },
    { "watts",          KEY_NUMBER, IN_CHANNEL(is.watts),       0.01, 20000, 1, NULL, "watts = 5, as the nameplate says" },
    { "lumens",         KEY_NUMBER, IN_CHANNEL(is.lumens),      0.1, 1e7, 1, NULL, NULL },
    { "circuit",        KEY_TEXT,   IN_CHANNEL(circuit),        0, 0, 1, NULL, "circuit = NAME, with a section [circuit NAME]" },
    { "curve",          KEY_CHOICE, IN_CHANNEL(is.curve),       0, 0, 1, curves, NULL },
    { "min_level",      KEY_NUMBER, IN_CHANNEL(is.min_level),   0, 100, 1, NULL, NULL },
    { "max_level",      KEY_NUMBER, IN_CHANNEL(is.max_level),   0, 100, 1, NULL, NULL },
    { "lamp",           KEY_CHOICE, IN_CHANNEL(is.lamp),        0, 0, 1, lamps, NULL },
    { "rise_ms",        KEY_NUMBER, IN_CHANNEL(is.rise_ms),     0, 10000, 1, NULL, NULL },
    { "fall_ms",        KEY_NUMBER, IN_CHANNEL(is.fall_ms),     0, 10000, 1, NULL, NULL },
    { "lead_ms",        KEY_NUMBER, IN_CHANNEL(is.lead_ms),     0, 10000, 1, NULL, NULL },
    { "group",          KEY_TEXT,   IN_CHANNEL(group),          0, 0, 1, NULL, NULL },
    { "max_amps",       KEY_NUMBER, IN_CHANNEL(is.max_amps),    0.01, 400, 1, NULL, NULL },
    { "cord_length_ft", KEY_NUMBER, IN_CHANNEL(is.cord_length), 0.1, 5000, 1, NULL, NULL },
    { "cord_length_m",  KEY_NUMBER, IN_CHANNEL(is.cord_length), 0.1, 1500, 1, NULL, NULL },
    { "cord_awg",       KEY_WHOLE,  IN_CHANNEL(is.cord_awg),    1, 40, 1, NULL, NULL },
};

static const struct key bank_keys[] = {
    { "first",    KEY_WHOLE,  IN_BANK(first),    1, TC_MAX_CHANNELS, 1, NULL, "first = 1" },
    { "last",     KEY_WHOLE,  IN_BANK(last),     1, TC_MAX_CHANNELS, 1, NULL, "last = 8" },
    { "max_amps", KEY_NUMBER, IN_BANK(max_amps), 0.01, 400, 1, NULL, "max_amps = 8" },
};

static const struct key overhead_keys[] = {
    { "span_ft",           KEY_NUMBER, IN_LINE(span_m),          0.1, 2000, M_PER_FT, NULL, "span_ft = 50, or span_m = 15" },
    { "span_m",            KEY_NUMBER, IN_LINE(span_m),          0.1, 600, 1, NULL, NULL },
    { "sag_ft",            KEY_NUMBER, IN_LINE(sag_m),           0.001, 1000, M_PER_FT, NULL, "sag_ft = 2.5, sag_in = 30 or sag_m = 0.75" },
    { "sag_in",            KEY_NUMBER, IN_LINE(sag_m),           0.01, 12000, M_PER_IN, NULL, NULL },
    { "sag_m",             KEY_NUMBER, IN_LINE(sag_m),           0.001, 300, 1, NULL, NULL },
    { "centre_lb",         KEY_NUMBER, IN_LINE(centre_n),        0, 10000, N_PER_LB, NULL, NULL },
    { "centre_kg",         KEY_NUMBER, IN_LINE(centre_n),        0, 5000, N_PER_KG, NULL, NULL },
    { "uniform_lb_per_ft", KEY_NUMBER, IN_LINE(uniform_n_per_m), 0, 100, N_PER_LB / M_PER_FT, NULL, NULL },
    { "uniform_kg_per_m",  KEY_NUMBER, IN_LINE(uniform_n_per_m), 0, 150, N_PER_KG, NULL, NULL },
    { "breaking_lb",       KEY_NUMBER, IN_LINE(breaking_n),      1, 1e6, N_PER_LB, NULL, NULL },
    { "breaking_kg",       KEY_NUMBER, IN_LINE(breaking_n),      1, 5e5, N_PER_KG, NULL, NULL },
    { "breaking_n",        KEY_NUMBER, IN_LINE(breaking_n),      1, 5e6, 1, NULL, NULL },
    { "knot",              KEY_SHARE,  IN_LINE(knot),            0.1, 1, 1, knots, NULL },
    { "design_factor",     KEY_NUMBER, IN_LINE(design_factor),   1, 50, 1, NULL, NULL },
};

_Static_assert(COUNT(channel_keys) <= KEYS_MOST && COUNT(overhead_keys) <= KEYS_MOST, "room for all keys");

struct section_row {
    const char *word;
    const char *form;         /* of its heading */
    bool named;
    const struct key *keys;
    size_t key_count;
};

static const struct section_row section_rows[SECTION_TYPES] = {
    [IN_NONE]     = { NULL, NULL, false, NULL, 0 },
    [IN_RIG]      = { "rig",      "[rig]",          false, rig_keys,      COUNT(rig_keys) },
    [IN_CIRCUIT]  = { "circuit",  "[circuit NAME]", true,  circuit_keys,  COUNT(circuit_keys) },
    [IN_CHANNEL]  = { "channel",  "[channel N]",    true,  channel_keys,  COUNT(channel_keys) },
    [IN_BANK]     = { "bank",     "[bank NAME]",    true,  bank_keys,     COUNT(bank_keys) },
    [IN_OVERHEAD] = { "overhead", "[overhead]",     false, overhead_keys, COUNT(overhead_keys) },
};

/* ---- Errors ---- */

bool rig_file_wrong(struct rig_file *f, int line, const char *format, ...)
{
    if (f->status != TC_OK) return false;
    char text[700];
    va_list args;
    va_start(args, format);
    vsnprintf(text, sizeof text, format, args);
    va_end(args);
    f->status = line ? problem_set(f->why, TC_ERR_RIG, "%s:%d: %s", f->shown, line, text)
                     : problem_set(f->why, TC_ERR_RIG, "%s: %s", f->shown, text);
    return false;
}

/* The same for the line just read. */
static bool wrong(struct rig_file *f, const char *format, ...) __attribute__((format(printf, 2, 3)));
static bool wrong(struct rig_file *f, const char *format, ...)
{
    char text[700];
    va_list args;
    va_start(args, format);
    vsnprintf(text, sizeof text, format, args);
    va_end(args);
    return rig_file_wrong(f, f->line, "%s", text);
}

bool rig_file_memory(struct rig_file *f)
{
    f->status = problem_set(f->why, TC_ERR_MEMORY, "%s", tc_status_text(TC_ERR_MEMORY));
    return false;
}

/* "channel 4", "circuit left", "rig". */
static const char *label(char *to, size_t size, const struct section *s)
{
    char plain[64];
    text_plain(plain, sizeof plain, s->name);
    snprintf(to, size, "%s%s%s", section_rows[s->type].word, *plain ? " " : "", plain);
    return to;
}

/* ---- Lines ---- */

/* Reads one line into f->text without the white space around it. False at the
 * end of the file, or after an error. Line ends are LF, CRLF or CR. */
static bool read_line(struct rig_file *f)
{
    size_t used = 0;
    bool comment = false, any = false, long_line = false;
    int b;
    while ((b = getc(f->in)) != EOF && b != '\n' && b != '\r') {
        if (!any) f->line++;
        any = true;
        if (b == 0) return wrong(f, "a zero byte: a rig file is plain text");
        if (!used && (b == ' ' || b == '\t')) continue;
        if (!used) comment = b == ';' || b == '#';
        if (used < LINE_MOST) f->text[used++] = (char)b;
        else long_line = true;
        /* a byte order mark, as some editors write it */
        if (f->line == 1 && used == 3 && !memcmp(f->text, "\xEF\xBB\xBF", 3)) used = 0;
    }
    if (b == EOF && !any) return false;
    if (!any) f->line++;
    if (b == '\r') {
        int next = getc(f->in);
        if (next != '\n' && next != EOF) ungetc(next, f->in);
    }
    while (used && strchr(" \t\v\f", f->text[used - 1])) used--;
    f->text[used] = 0;
    if (comment) {
        f->text[0] = 0;
        return true;
    }
    if (long_line)
        return wrong(f, "this line is longer than %d bytes, the most that a line may have", LINE_MOST);
    if (!text_utf8(f->text))
        return wrong(f, "this line is not UTF-8: save the file in UTF-8");
    return true;
}

/* The value of f->text, by inih's rules: behind the first '=' or ':', up to a
 * ';' that follows white space. Changes f->text. */
static const char *long_value(struct rig_file *f)
{
    char *value = f->text + strcspn(f->text, "=:");
    if (*value) value++;
    for (char *c = value; *c; c++)
        if (*c == ';' && (c[-1] == ' ' || c[-1] == '\t')) *c = 0;
    value += strspn(value, " \t");
    for (size_t n = strlen(value); n && strchr(" \t", value[n - 1]); n--) value[n - 1] = 0;
    return value;
}

static bool begin_section(struct rig_file *f);

/* Hands inih one line; an ini_reader. */
static char *next_line(char *to, int size, void *user)
{
    struct rig_file *f = user;
    if (f->status != TC_OK || !read_line(f)) return NULL;
    if (*f->text == '[') {
        if (!begin_section(f)) return NULL;
        snprintf(to, (size_t)size, "[%s]", section_rows[f->sections[f->section_count - 1].type].word);
        return to;
    }
    size_t stop = strcspn(f->text, "=:");
    if (*f->text && (!f->text[stop] || !stop)) {
        char plain[64];
        wrong(f, "'%s' is neither a [section] nor of the form key = value",
              text_plain(plain, sizeof plain, f->text));
        return NULL;
    }
    /* A line that fills inih's buffer would be joined with the next where inih
     * may let it grow; then the value comes from long_value. */
    f->cut = strlen(f->text) + 3 > (size_t)size;
    if (f->cut && stop + 4 > (size_t)size) {
        wrong(f, "a key of %zu bytes; no key is that long", stop);
        return NULL;
    }
    snprintf(to, (size_t)size, "%.*s", f->cut ? (int)stop + 1 : LINE_MOST, f->text);
    return to;
}

/* ---- Sections ---- */

static enum section_type section_find(const char *word)
{
    for (int i = IN_RIG; i < SECTION_TYPES; i++)
        if (!strcmp(word, section_rows[i].word)) return (enum section_type)i;
    return IN_NONE;
}

static bool unknown_section(struct rig_file *f, const char *word)
{
    char plain[64];
    const char *near = NULL;
    size_t least = 4;
    for (int i = IN_RIG; i < SECTION_TYPES; i++) {
        size_t d = text_distance(word, section_rows[i].word);
        if (d < least) least = d, near = section_rows[i].form;
    }
    text_plain(plain, sizeof plain, word);
    if (near) return wrong(f, "there is no section [%s]; did you mean %s?", plain, near);
    return wrong(f, "there is no section [%s]; there are [rig], [circuit NAME], [channel N], "
                             "[bank NAME] and [overhead]", plain);
}

static struct section *section_add(struct rig_file *f)
{
    if (f->section_count == SECTIONS_MOST) {
        wrong(f, "more than %d sections", SECTIONS_MOST);
        return NULL;
    }
    if (f->section_count == f->section_room) {
        size_t room = f->section_room ? 2 * f->section_room : 32;
        struct section *more = memory_resize(f->sections, room * sizeof *more);
        if (!more) {
            rig_file_memory(f);
            return NULL;
        }
        f->sections = more;
        f->section_room = room;
    }
    struct section *s = &f->sections[f->section_count++];
    memset(s, 0, sizeof *s);
    return s;
}

/* Splits "[channel 4] ; comment" into word and name. False with an error. */
static bool split_heading(struct rig_file *f, char **word, char **name)
{
    char plain[64];
    char *end = strchr(f->text, ']');
    if (!end) return wrong(f, "'%s' lacks its closing ]", text_plain(plain, sizeof plain, f->text));
    char *rest = end + 1 + strspn(end + 1, " \t");
    if (*rest && *rest != ';' && *rest != '#')
        return wrong(f, "'%s' stands behind the heading: a ] ends it, and names can't contain one",
                     text_plain(plain, sizeof plain, rest));
    *end = 0;
    *word = f->text + 1 + strspn(f->text + 1, " \t");
    *name = *word + strcspn(*word, " \t");
    if (**name) *(*name)++ = 0;
    *name += strspn(*name, " \t");
    for (size_t n = strlen(*name); n && strchr(" \t", (*name)[n - 1]); n--) (*name)[n - 1] = 0;
    return true;
}

static bool begin_section(struct rig_file *f)
{
    char *word = NULL, *name = NULL, plain[64];
    if (!split_heading(f, &word, &name)) return false;
    enum section_type type = section_find(word);
    if (type == IN_NONE) return unknown_section(f, word);
    const struct section_row *row = &section_rows[type];
    text_plain(plain, sizeof plain, name);
    if (row->named && !*name) return wrong(f, "[%s] lacks its name: write %s", row->word, row->form);
    if (!row->named && *name)
        return wrong(f, "[%s %s]: this section takes no name: write %s", row->word, plain, row->form);
    if (strlen(name) >= TC_NAME_SIZE)
        return wrong(f, "a name of %zu bytes is too long: up to %d fit", strlen(name), TC_NAME_SIZE - 1);

    int64_t number = 0;
    if (type == IN_CHANNEL && (!number_read_whole(name, &number) || number < 1 || number > TC_MAX_CHANNELS))
        return wrong(f, "[channel %s]: '%s' is not a channel number from 1 to %d", plain, plain,
                              TC_MAX_CHANNELS);
    for (size_t i = 0; i < f->section_count; i++) {
        const struct section *other = &f->sections[i];
        if (other->type != type) continue;
        if (type == IN_CHANNEL ? other->is.channel.is.number == number : !strcmp(other->name, name)) {
            char both[80];
            return wrong(f, "%s is there twice (first in line %d)",
                                  label(both, sizeof both, other), other->line);
        }
    }
    struct section *s = section_add(f);
    if (!s) return false;
    s->type = type;
    s->line = f->line;
    snprintf(s->name, sizeof s->name, "%s", name);
    if (type == IN_CHANNEL) { /* 04 is 4 */
        s->is.channel.is = rig_file_channel();
        s->is.channel.is.number = (int)number;
        snprintf(s->name, sizeof s->name, "%d", (int)number);
    }
    return true;
}

/* Where the values of a section go. */
static char *section_target(struct section *s)
{
    switch (s->type) {
    case IN_RIG:      return (char *)&s->is.rig;
    case IN_CIRCUIT:  return (char *)&s->is.circuit;
    case IN_CHANNEL:  return (char *)&s->is.channel;
    case IN_BANK:     return (char *)&s->is.bank;
    case IN_OVERHEAD: return (char *)&s->is.overhead;
    case IN_NONE:
    case SECTION_TYPES: break;
    }
    return NULL;
}

/* ---- Keys ---- */

struct telling section_tell(const struct section *s, const char *value)
{
    struct telling t;
    label(t.where, sizeof t.where, s);
    text_plain(t.value, sizeof t.value, value);
    return t;
}

static void list_words(char *to, size_t size, const struct word *words)
{
    size_t used = 0;
    *to = 0;
    for (const struct word *w = words; w->name && used < size; w++) {
        const char *join = w == words ? "" : w[1].name ? ", " : " or ";
        used += (size_t)snprintf(to + used, size - used, "%s%s", join, w->name);
    }
}

static bool take_text(struct rig_file *f, const struct section *s, const struct key *key,
                      const char *value, char *to)
{
    struct telling t = section_tell(s, value);
    if (strlen(value) >= TC_NAME_SIZE)
        return wrong(f, "%s: %s has %zu bytes: up to %d fit",
                     t.where, key->name, strlen(value), TC_NAME_SIZE - 1);
    if (!*value && !strcmp(key->name, "name"))
        return wrong(f, "%s: name is empty: give one, or leave the line out", t.where);
    snprintf(to, TC_NAME_SIZE, "%s", value);
    return true;
}

static bool take_number(struct rig_file *f, const struct section *s, const struct key *key,
                        const char *value, double *to)
{
    struct telling t = section_tell(s, value);
    double number;
    if (!number_read(value, &number)) {
        if (!key->words) return wrong(f, "%s: %s '%s' is not a number", t.where, key->name, t.value);
        char words[160];
        list_words(words, sizeof words, key->words);
        return wrong(f, "%s: %s '%s' is neither a number nor %s", t.where, key->name, t.value, words);
    }
    if (number < key->least)
        return wrong(f, "%s: %s %s is below %.10g", t.where, key->name, t.value, key->least);
    if (number > key->most) return wrong(f, "%s: %s %s is above %.10g", t.where, key->name, t.value, key->most);
    *to = number * key->factor;
    return true;
}

static const struct word *word_find(const struct word *words, const char *value)
{
    for (const struct word *w = words; w->name; w++)
        if (!strcmp(w->name, value)) return w;
    return NULL;
}

static bool take_whole(struct rig_file *f, const struct section *s, const struct key *key,
                       const char *value, void *to)
{
    double number;
    int64_t whole;
    if (!take_number(f, s, key, value, &number)) return false;
    if (!number_read_whole(value, &whole)) {
        struct telling t = section_tell(s, value);
        return wrong(f, "%s: %s '%s' is not a whole number", t.where, key->name, t.value);
    }
    memcpy(to, &(int){ (int)whole }, sizeof(int));
    return true;
}

static bool take_choice(struct rig_file *f, const struct section *s, const struct key *key,
                        const char *value, void *to)
{
    const struct word *word = word_find(key->words, value);
    if (!word) {
        struct telling t = section_tell(s, value);
        char words[160];
        list_words(words, sizeof words, key->words);
        return wrong(f, "%s: %s '%s' is not %s", t.where, key->name, t.value, words);
    }
    memcpy(to, &(int){ (int)word->value }, sizeof(int));
    return true;
}

static bool take_value(struct rig_file *f, const struct section *s, const struct key *key,
                       const char *value, char *target)
{
    void *to = target + key->offset;
    const struct word *word;
    switch (key->type) {
    case KEY_TEXT:   return take_text(f, s, key, value, to);
    case KEY_NUMBER: return take_number(f, s, key, value, to);
    case KEY_WHOLE:  return take_whole(f, s, key, value, to);
    case KEY_PARENT: return !*value || take_whole(f, s, key, value, to);
    case KEY_CHOICE: return take_choice(f, s, key, value, to);
    case KEY_SHARE:
        word = word_find(key->words, value);
        if (!word) return take_number(f, s, key, value, to);
        *(double *)to = word->value;
        return true;
    }
    return false;
}

static bool unknown_key(struct rig_file *f, const struct section *s, const char *name)
{
    struct telling t = section_tell(s, name);
    const struct section_row *row = &section_rows[s->type];
    const char *near = NULL;
    size_t least = 4;
    for (size_t k = 0; k < row->key_count; k++) {
        size_t d = text_distance(name, row->keys[k].name);
        if (d < least && d < strlen(row->keys[k].name)) least = d, near = row->keys[k].name;
    }
    if (near)
        return wrong(f, "%s: there is no key '%s' in %s; did you mean %s?", t.where, t.value, row->form, near);
    for (int i = IN_RIG; i < SECTION_TYPES; i++)
        for (size_t k = 0; k < section_rows[i].key_count; k++)
            if (!strcmp(section_rows[i].keys[k].name, name))
                return wrong(f, "%s: %s is no key of %s but of %s",
                             t.where, t.value, row->form, section_rows[i].form);
    return wrong(f, "%s: there is no key '%s' in %s", t.where, t.value, row->form);
}

/* An ini_handler. The section comes from the reader, where it is whole. */
static int take_line(void *user, const char *cut_section, const char *name, const char *value)
{
    (void)cut_section;
    struct rig_file *f = user;
    if (f->status != TC_OK) return 0;
    if (!f->section_count)
        return wrong(f, "%.40s stands before the first [section]", name);
    struct section *s = &f->sections[f->section_count - 1];
    const struct section_row *row = &section_rows[s->type];
    const struct key *key = NULL;
    for (size_t k = 0; k < row->key_count && !key; k++)
        if (!strcmp(row->keys[k].name, name)) key = &row->keys[k];
    if (!key) return unknown_key(f, s, name);
    for (size_t k = 0; k < row->key_count; k++) {
        if (row->keys[k].offset != key->offset || !s->key_line[k]) continue;
        struct telling t = section_tell(s, "");
        if (&row->keys[k] == key)
            return wrong(f, "%s: %s is there twice (first in line %d)", t.where, key->name, s->key_line[k]);
        return wrong(f, "%s: %s says again what %s says in line %d: keep one", t.where, key->name,
                     row->keys[k].name, s->key_line[k]);
    }
    s->key_line[key - row->keys] = f->line;
    return take_value(f, s, key, f->cut ? long_value(f) : value, section_target(s));
}

int section_key_line(const struct section *s, const char *name)
{
    const struct section_row *row = &section_rows[s->type];
    for (size_t k = 0; k < row->key_count; k++)
        if (!strcmp(row->keys[k].name, name)) return s->key_line[k];
    return 0;
}

int section_line_near(const struct section *s, const char *name)
{
    int line = section_key_line(s, name);
    return line ? line : s->line;
}

/* ---- All of it ---- */

static bool quantity_given(const struct section *s, size_t offset)
{
    const struct section_row *row = &section_rows[s->type];
    for (size_t k = 0; k < row->key_count; k++)
        if (row->keys[k].offset == offset && s->key_line[k]) return true;
    return false;
}

/* Every key that a section needs is there. */
static bool check_needed(struct rig_file *f)
{
    for (size_t i = 0; i < f->section_count; i++) {
        struct section *s = &f->sections[i];
        const struct section_row *row = &section_rows[s->type];
        for (size_t k = 0; k < row->key_count; k++) {
            const struct key *key = &row->keys[k];
            if (!key->example) continue;
            bool blank = key->type == KEY_TEXT && !*(section_target(s) + key->offset);
            if (quantity_given(s, key->offset) && !blank) continue;
            char where[80];
            int line = s->key_line[k] ? s->key_line[k] : s->line;
            size_t word = strcspn(key->name, "_"); /* "span" of "span_ft" */
            bool units = s->type == IN_OVERHEAD;
            return rig_file_wrong(f, line, "%s: %.*s is missing: write %s", label(where, sizeof where, s),
                         units ? (int)word : (int)strlen(key->name), key->name, key->example);
        }
    }
    return true;
}

bool rig_file_read(struct rig_file *f)
{
    int stopped = ini_parse_stream(next_line, f, take_line, f);
    if (f->status != TC_OK) return false;
    if (ferror(f->in)) return rig_file_wrong(f, 0, "can't be read: %s", strerror(errno));
    /* inih refuses nothing that next_line let through; if another version does, say at least where. */
    if (stopped > 0) return rig_file_wrong(f, stopped, "not a line of the form key = value");
    if (stopped < 0) return rig_file_memory(f);
    if (!f->section_count)
        return rig_file_wrong(f, 0, "there is nothing in it: a rig file has at least a [circuit NAME] and a [channel N]");
    return check_needed(f);
}
