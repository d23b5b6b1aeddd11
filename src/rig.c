/* The rig: which channel lights what, from a file or built in.
 *
 * A rig file is an INI file, taken apart by inih. inih's limits would pass
 * unnoticed otherwise, so its lines come through a reader of our own that
 * guards them: lines longer than its buffer, which inih would split in two;
 * indented lines, which it would take for a second value of the key above;
 * headings longer than 50 bytes or with text behind them; headings without
 * keys, of which it would say nothing. inih's settings (variables of the
 * process) are left as they are.
 *
 * Each section is filled in by a table of keys. What refers to other sections
 * (parents, circuits, groups) is looked up at the end, with the lines kept
 * from reading, so that errors still name theirs. */
#include <ini.h>

#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "model.h"
#include "status.h"
#include "text.h"

#define COUNT(table) (sizeof(table) / sizeof *(table))

/* ---- The built-in rig ---- */

struct built_in {
    const char *name;
    int parent; /* channel number, 0 = a root */
};

static const struct built_in built_in[] = {
    { "trunk top", 0 },        { "trunk middle", 1 },     { "trunk low", 2 },
    { "trunk tip", 3 },        { "high left fork", 1 },   { "high left tip", 5 },
    { "right fork", 2 },       { "right tip", 7 },        { "low left fork", 3 },
    { "low left tip", 9 },     { "high right twig", 1 },  { "low right twig", 3 },
    { "flood left", 0 },       { "flood centre left", 0 },
    { "flood centre right", 0 }, { "flood right", 0 },
};

enum { BUILT_IN_BRANCHES = 12 };

static void name_set(char *to, const char *from)
{
    snprintf(to, TC_NAME_SIZE, "%s", from);
}

/* What a channel is if its section does not say otherwise. */
static const struct tc_channel plain_channel = {
    .parent = -1, .group = -1, .max_level = 100, .curve = TC_CURVE_LINEAR, .lamp = TC_LAMP_LED,
};

enum tc_status tc_rig_builtin(struct tc_rig *out)
{
    *out = (struct tc_rig){ .name = "built-in rig", .mains_volts = 120, .mains_hz = 60 };
    out->channels = calloc(COUNT(built_in), sizeof *out->channels);
    out->circuits = calloc(1, sizeof *out->circuits);
    if (!out->channels || !out->circuits) {
        tc_rig_clear(out);
        return TC_ERR_MEMORY;
    }
    out->circuit_count = 1;
    out->circuits[0] = (struct tc_circuit){ .name = "main", .breaker_amps = 15, .volts = 120 };
    out->channel_count = COUNT(built_in);
    for (size_t i = 0; i < COUNT(built_in); i++) {
        struct tc_channel *c = &out->channels[i];
        bool branch = i < BUILT_IN_BRANCHES;
        *c = plain_channel;
        c->number = (int)i + 1;
        c->kind = branch ? TC_BRANCH : TC_FLOOD;
        c->parent = built_in[i].parent - 1;
        c->watts = branch ? 5 : 15;
        name_set(c->name, built_in[i].name);
    }
    return TC_OK;
}

void tc_rig_clear(struct tc_rig *rig)
{
    if (!rig) return;
    free(rig->channels);
    free(rig->circuits);
    free(rig->groups);
    free(rig->banks);
    *rig = (struct tc_rig){ 0 };
}

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

/* A channel as it is read: its references are still names and numbers. */
struct channel_draft {
    struct tc_channel is;
    int parent;
    char circuit[TC_NAME_SIZE], group[TC_NAME_SIZE];
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

/* Choices are written as int. */
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

enum { KEYS_MOST = 20 };
_Static_assert(COUNT(channel_keys) <= KEYS_MOST && COUNT(overhead_keys) <= KEYS_MOST, "room for all keys");

enum section_type { IN_NONE, IN_RIG, IN_CIRCUIT, IN_CHANNEL, IN_BANK, IN_OVERHEAD, SECTION_TYPES };

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

/* ---- Reading ---- */

enum { LINE_MOST = 1000, SECTIONS_MOST = 4 * TC_MAX_CHANNELS };

/* A section of the file, with the lines of its keys (0 = not there). */
struct section {
    enum section_type type;
    char name[TC_NAME_SIZE];  /* behind the word; "" if it takes none */
    int line;
    int key_line[KEYS_MOST];
    /* where its values go; which one is meant says the type */
    union {
        struct tc_circuit circuit;
        struct channel_draft channel;
        struct tc_bank bank;
        struct tc_overhead overhead;
    } is;
};

struct reading {
    FILE *in;
    char shown[256];          /* the file's name, for messages */
    int line;
    char text[LINE_MOST + 1]; /* the line as it is in the file, without what surrounds it */
    bool cut;                 /* it is too long for inih: take the value from `text` */
    struct tc_rig *rig;
    struct section *sections;
    size_t section_count, section_room;
    enum tc_status status;    /* TC_OK until the first error */
    struct tc_problem *why;
};

/* "mill.rig:12: ..."; the first error stays. */
static bool wrong(struct reading *r, int line, const char *format, ...)
    __attribute__((format(printf, 3, 4)));
static bool wrong(struct reading *r, int line, const char *format, ...)
{
    if (r->status != TC_OK) return false;
    char text[700];
    va_list args;
    va_start(args, format);
    vsnprintf(text, sizeof text, format, args);
    va_end(args);
    r->status = line ? problem_set(r->why, TC_ERR_RIG, "%s:%d: %s", r->shown, line, text)
                     : problem_set(r->why, TC_ERR_RIG, "%s: %s", r->shown, text);
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

/* Reads one line into r->text without the white space around it. False at the
 * end of the file, or after an error. Line ends are LF, CRLF or CR. */
static bool read_line(struct reading *r)
{
    size_t used = 0;
    bool comment = false, any = false, long_line = false;
    int b;
    while ((b = getc(r->in)) != EOF && b != '\n' && b != '\r') {
        if (!any) r->line++;
        any = true;
        if (b == 0) return wrong(r, r->line, "a zero byte: a rig file is plain text");
        if (!used && (b == ' ' || b == '\t')) continue;
        if (!used) comment = b == ';' || b == '#';
        if (used < LINE_MOST) r->text[used++] = (char)b;
        else long_line = true;
        /* a byte order mark, as some editors write it */
        if (r->line == 1 && used == 3 && !memcmp(r->text, "\xEF\xBB\xBF", 3)) used = 0;
    }
    if (b == EOF && !any) return false;
    if (!any) r->line++;
    if (b == '\r') {
        int next = getc(r->in);
        if (next != '\n' && next != EOF) ungetc(next, r->in);
    }
    while (used && strchr(" \t\v\f", r->text[used - 1])) used--;
    r->text[used] = 0;
    if (comment) {
        r->text[0] = 0;
        return true;
    }
    if (long_line)
        return wrong(r, r->line, "this line is longer than %d bytes, the most that a line may have", LINE_MOST);
    if (!text_utf8(r->text))
        return wrong(r, r->line, "this line is not UTF-8: save the file in UTF-8");
    return true;
}

/* The value of r->text, by inih's rules: behind the first '=' or ':', up to a
 * ';' that follows white space. Changes r->text. */
static const char *long_value(struct reading *r)
{
    char *value = r->text + strcspn(r->text, "=:");
    if (*value) value++;
    for (char *c = value; *c; c++)
        if (*c == ';' && (c[-1] == ' ' || c[-1] == '\t')) *c = 0;
    value += strspn(value, " \t");
    for (size_t n = strlen(value); n && strchr(" \t", value[n - 1]); n--) value[n - 1] = 0;
    return value;
}

static bool begin_section(struct reading *r);

/* Hands inih one line; an ini_reader. */
static char *next_line(char *to, int size, void *user)
{
    struct reading *r = user;
    if (r->status != TC_OK || !read_line(r)) return NULL;
    if (*r->text == '[') {
        if (!begin_section(r)) return NULL;
        snprintf(to, (size_t)size, "[%s]", section_rows[r->sections[r->section_count - 1].type].word);
        return to;
    }
    size_t stop = strcspn(r->text, "=:");
    if (*r->text && (!r->text[stop] || !stop)) {
        char plain[64];
        wrong(r, r->line, "'%s' is neither a [section] nor of the form key = value",
              text_plain(plain, sizeof plain, r->text));
        return NULL;
    }
    /* inih wants room for a line end, too; the value comes from long_value. */
    r->cut = strlen(r->text) + 3 > (size_t)size;
    if (r->cut && stop + 4 > (size_t)size) {
        wrong(r, r->line, "a key of %zu bytes; no key is that long", stop);
        return NULL;
    }
    snprintf(to, (size_t)size, "%.*s", r->cut ? (int)stop + 1 : LINE_MOST, r->text);
    return to;
}

/* ---- Sections ---- */

static enum section_type section_find(const char *word)
{
    for (int i = IN_RIG; i < SECTION_TYPES; i++)
        if (!strcmp(word, section_rows[i].word)) return (enum section_type)i;
    return IN_NONE;
}

static bool unknown_section(struct reading *r, const char *word)
{
    char plain[64];
    const char *near = NULL;
    size_t least = 4;
    for (int i = IN_RIG; i < SECTION_TYPES; i++) {
        size_t d = text_distance(word, section_rows[i].word);
        if (d < least) least = d, near = section_rows[i].form;
    }
    text_plain(plain, sizeof plain, word);
    if (near) return wrong(r, r->line, "there is no section [%s]; did you mean %s?", plain, near);
    return wrong(r, r->line, "there is no section [%s]; there are [rig], [circuit NAME], [channel N], "
                             "[bank NAME] and [overhead]", plain);
}

static struct section *section_add(struct reading *r)
{
    if (r->section_count == SECTIONS_MOST) {
        wrong(r, r->line, "more than %d sections", SECTIONS_MOST);
        return NULL;
    }
    if (r->section_count == r->section_room) {
        size_t room = r->section_room ? 2 * r->section_room : 32;
        struct section *more = realloc(r->sections, room * sizeof *more);
        if (!more) {
            r->status = problem_set(r->why, TC_ERR_MEMORY, "%s", tc_status_text(TC_ERR_MEMORY));
            return NULL;
        }
        r->sections = more;
        r->section_room = room;
    }
    struct section *s = &r->sections[r->section_count++];
    memset(s, 0, sizeof *s);
    return s;
}

/* Splits "[channel 4] ; comment" into word and name. False with an error. */
static bool split_heading(struct reading *r, char **word, char **name)
{
    char plain[64];
    char *end = strchr(r->text, ']');
    if (!end) return wrong(r, r->line, "'%s' lacks its closing ]", text_plain(plain, sizeof plain, r->text));
    char *rest = end + 1 + strspn(end + 1, " \t");
    if (*rest && *rest != ';' && *rest != '#')
        return wrong(r, r->line, "'%s' stands behind the heading: a ] ends it, and names can't contain one",
                     text_plain(plain, sizeof plain, rest));
    *end = 0;
    *word = r->text + 1 + strspn(r->text + 1, " \t");
    *name = *word + strcspn(*word, " \t");
    if (**name) *(*name)++ = 0;
    *name += strspn(*name, " \t");
    for (size_t n = strlen(*name); n && strchr(" \t", (*name)[n - 1]); n--) (*name)[n - 1] = 0;
    return true;
}

static bool begin_section(struct reading *r)
{
    char *word = NULL, *name = NULL, plain[64];
    if (!split_heading(r, &word, &name)) return false;
    enum section_type type = section_find(word);
    if (type == IN_NONE) return unknown_section(r, word);
    const struct section_row *row = &section_rows[type];
    text_plain(plain, sizeof plain, name);
    if (row->named && !*name) return wrong(r, r->line, "[%s] lacks its name: write %s", row->word, row->form);
    if (!row->named && *name) return wrong(r, r->line, "[%s %s]: this section takes no name: write %s", row->word, plain, row->form);
    if (strlen(name) >= TC_NAME_SIZE)
        return wrong(r, r->line, "a name of %zu bytes is too long: up to %d fit", strlen(name), TC_NAME_SIZE - 1);

    int64_t number = 0;
    if (type == IN_CHANNEL && (!text_whole(name, &number) || number < 1 || number > TC_MAX_CHANNELS))
        return wrong(r, r->line, "[channel %s]: '%s' is not a channel number from 1 to %d", plain, plain, TC_MAX_CHANNELS);
    for (size_t i = 0; i < r->section_count; i++) {
        const struct section *other = &r->sections[i];
        if (other->type != type) continue;
        if (type == IN_CHANNEL ? other->is.channel.is.number == number : !strcmp(other->name, name)) {
            char both[80];
            return wrong(r, r->line, "%s is there twice (first in line %d)", label(both, sizeof both, other), other->line);
        }
    }
    struct section *s = section_add(r);
    if (!s) return false;
    s->type = type;
    s->line = r->line;
    name_set(s->name, name);
    if (type == IN_CHANNEL) { /* 04 is 4 */
        s->is.channel.is = plain_channel;
        s->is.channel.is.number = (int)number;
        snprintf(s->name, sizeof s->name, "%d", (int)number);
    }
    return true;
}

/* Where the values of a section go. */
static char *section_target(struct reading *r, struct section *s)
{
    switch (s->type) {
    case IN_RIG:      return (char *)r->rig;
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

/* Where a message about a value begins, and the value as it may be shown. */
struct telling {
    char where[80], value[64];
};

static struct telling tell(const struct section *s, const char *value)
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

static bool take_text(struct reading *r, const struct section *s, const struct key *key,
                      const char *value, char *to)
{
    struct telling t = tell(s, value);
    if (strlen(value) >= TC_NAME_SIZE)
        return wrong(r, r->line, "%s: %s has %zu bytes: up to %d fit", t.where, key->name, strlen(value), TC_NAME_SIZE - 1);
    if (!*value && !strcmp(key->name, "name"))
        return wrong(r, r->line, "%s: name is empty: give one, or leave the line out", t.where);
    name_set(to, value);
    return true;
}

static bool take_number(struct reading *r, const struct section *s, const struct key *key,
                        const char *value, double *to)
{
    struct telling t = tell(s, value);
    double number;
    if (!text_number(value, &number)) {
        if (!key->words) return wrong(r, r->line, "%s: %s '%s' is not a number", t.where, key->name, t.value);
        char words[160];
        list_words(words, sizeof words, key->words);
        return wrong(r, r->line, "%s: %s '%s' is neither a number nor %s", t.where, key->name, t.value, words);
    }
    if (number < key->least) return wrong(r, r->line, "%s: %s %s is below %.10g", t.where, key->name, t.value, key->least);
    if (number > key->most) return wrong(r, r->line, "%s: %s %s is above %.10g", t.where, key->name, t.value, key->most);
    *to = number * key->factor;
    return true;
}

static const struct word *word_find(const struct word *words, const char *value)
{
    for (const struct word *w = words; w->name; w++)
        if (!strcmp(w->name, value)) return w;
    return NULL;
}

static bool take_whole(struct reading *r, const struct section *s, const struct key *key,
                       const char *value, void *to)
{
    double number;
    int64_t whole;
    if (!take_number(r, s, key, value, &number)) return false;
    if (!text_whole(value, &whole)) {
        struct telling t = tell(s, value);
        return wrong(r, r->line, "%s: %s '%s' is not a whole number", t.where, key->name, t.value);
    }
    memcpy(to, &(int){ (int)whole }, sizeof(int));
    return true;
}

static bool take_choice(struct reading *r, const struct section *s, const struct key *key,
                        const char *value, void *to)
{
    const struct word *word = word_find(key->words, value);
    if (!word) {
        struct telling t = tell(s, value);
        char words[160];
        list_words(words, sizeof words, key->words);
        return wrong(r, r->line, "%s: %s '%s' is not %s", t.where, key->name, t.value, words);
    }
    memcpy(to, &(int){ (int)word->value }, sizeof(int));
    return true;
}

static bool take_value(struct reading *r, const struct section *s, const struct key *key,
                       const char *value, char *target)
{
    void *to = target + key->offset;
    const struct word *word;
    switch (key->type) {
    case KEY_TEXT:   return take_text(r, s, key, value, to);
    case KEY_NUMBER: return take_number(r, s, key, value, to);
    case KEY_WHOLE:  return take_whole(r, s, key, value, to);
    case KEY_PARENT: return !*value || take_whole(r, s, key, value, to);
    case KEY_CHOICE: return take_choice(r, s, key, value, to);
    case KEY_SHARE:
        word = word_find(key->words, value);
        if (!word) return take_number(r, s, key, value, to);
        *(double *)to = word->value;
        return true;
    }
    return false;
}

static bool unknown_key(struct reading *r, const struct section *s, const char *name)
{
    struct telling t = tell(s, name);
    const struct section_row *row = &section_rows[s->type];
    const char *near = NULL;
    size_t least = 4;
    for (size_t k = 0; k < row->key_count; k++) {
        size_t d = text_distance(name, row->keys[k].name);
        if (d < least && d < strlen(row->keys[k].name)) least = d, near = row->keys[k].name;
    }
    if (near) return wrong(r, r->line, "%s: there is no key '%s' in %s; did you mean %s?", t.where, t.value, row->form, near);
    for (int i = IN_RIG; i < SECTION_TYPES; i++)
        for (size_t k = 0; k < section_rows[i].key_count; k++)
            if (!strcmp(section_rows[i].keys[k].name, name))
                return wrong(r, r->line, "%s: %s is no key of %s but of %s", t.where, t.value, row->form, section_rows[i].form);
    return wrong(r, r->line, "%s: there is no key '%s' in %s", t.where, t.value, row->form);
}

/* An ini_handler. The section comes from the reader, where it is whole. */
static int take_line(void *user, const char *cut_section, const char *name, const char *value)
{
    (void)cut_section;
    struct reading *r = user;
    if (r->status != TC_OK) return 0;
    if (!r->section_count)
        return wrong(r, r->line, "%.40s stands before the first [section]", name);
    struct section *s = &r->sections[r->section_count - 1];
    const struct section_row *row = &section_rows[s->type];
    const struct key *key = NULL;
    for (size_t k = 0; k < row->key_count && !key; k++)
        if (!strcmp(row->keys[k].name, name)) key = &row->keys[k];
    if (!key) return unknown_key(r, s, name);
    for (size_t k = 0; k < row->key_count; k++) {
        if (row->keys[k].offset != key->offset || !s->key_line[k]) continue;
        struct telling t = tell(s, "");
        if (&row->keys[k] == key)
            return wrong(r, r->line, "%s: %s is there twice (first in line %d)", t.where, key->name, s->key_line[k]);
        return wrong(r, r->line, "%s: %s says again what %s says in line %d: keep one", t.where, key->name,
                     row->keys[k].name, s->key_line[k]);
    }
    s->key_line[key - row->keys] = r->line;
    return take_value(r, s, key, r->cut ? long_value(r) : value, section_target(r, s));
}

/* ---- Putting the rig together ---- */

/* The line of a key, 0 if it is not there. */
static int key_line(const struct section *s, const char *name)
{
    const struct section_row *row = &section_rows[s->type];
    for (size_t k = 0; k < row->key_count; k++)
        if (!strcmp(row->keys[k].name, name)) return s->key_line[k];
    return 0;
}

/* The line to name in an error about a key that may not be there. */
static int line_near(const struct section *s, const char *name)
{
    int line = key_line(s, name);
    return line ? line : s->line;
}

static bool quantity_given(const struct section *s, size_t offset)
{
    const struct section_row *row = &section_rows[s->type];
    for (size_t k = 0; k < row->key_count; k++)
        if (row->keys[k].offset == offset && s->key_line[k]) return true;
    return false;
}

/* Every key that a section needs is there. */
static bool check_needed(struct reading *r)
{
    for (size_t i = 0; i < r->section_count; i++) {
        struct section *s = &r->sections[i];
        const struct section_row *row = &section_rows[s->type];
        for (size_t k = 0; k < row->key_count; k++) {
            const struct key *key = &row->keys[k];
            if (!key->example) continue;
            bool blank = key->type == KEY_TEXT && !*(section_target(r, s) + key->offset);
            if (quantity_given(s, key->offset) && !blank) continue;
            char where[80];
            int line = s->key_line[k] ? s->key_line[k] : s->line;
            size_t word = strcspn(key->name, "_"); /* "span" of "span_ft" */
            bool units = s->type == IN_OVERHEAD;
            return wrong(r, line, "%s: %.*s is missing: write %s", label(where, sizeof where, s),
                         units ? (int)word : (int)strlen(key->name), key->name, key->example);
        }
    }
    return true;
}

static size_t sections_of(const struct reading *r, enum section_type type)
{
    size_t n = 0;
    for (size_t i = 0; i < r->section_count; i++) n += r->sections[i].type == type;
    return n;
}

static int by_number(const void *a, const void *b)
{
    const struct section *const *x = a, *const *y = b;
    int left = (*x)->is.channel.is.number, right = (*y)->is.channel.is.number;
    return (left > right) - (left < right);
}

static int circuit_find(const struct tc_rig *rig, const char *name)
{
    for (size_t i = 0; i < rig->circuit_count; i++)
        if (!strcmp(rig->circuits[i].name, name)) return (int)i;
    return -1;
}

/* The group of that name, added if it is new. There is room for all. */
static int group_of(struct tc_rig *rig, const char *name)
{
    if (!*name) return -1;
    for (size_t i = 0; i < rig->group_count; i++)
        if (!strcmp(rig->groups[i].name, name)) return (int)i;
    name_set(rig->groups[rig->group_count].name, name);
    return (int)rig->group_count++;
}

static bool place_circuits(struct reading *r)
{
    struct tc_rig *rig = r->rig;
    for (size_t i = 0; i < r->section_count; i++) {
        const struct section *s = &r->sections[i];
        if (s->type != IN_CIRCUIT) continue;
        struct tc_circuit *c = &rig->circuits[rig->circuit_count++];
        *c = s->is.circuit;
        name_set(c->name, s->name);
        if (!key_line(s, "volts")) c->volts = rig->mains_volts;
    }
    return true;
}

/* What a channel says, with its names and numbers looked up but for the parent. */
static bool place_channel(struct reading *r, const struct section *s)
{
    struct tc_rig *rig = r->rig;
    const struct channel_draft *draft = &s->is.channel;
    struct tc_channel *c = &rig->channels[rig->channel_count++];
    *c = draft->is;
    if (!*c->name) snprintf(c->name, sizeof c->name, "channel %d", c->number);
    c->cord_metric = key_line(s, "cord_length_m") != 0;
    if (c->min_level >= c->max_level) {
        int low = line_near(s, "min_level"), high = line_near(s, "max_level");
        return wrong(r, low > high ? low : high, "channel %d: min_level %g is not below max_level %g",
                     c->number, c->min_level, c->max_level);
    }
    c->circuit = circuit_find(rig, draft->circuit);
    if (c->circuit < 0) {
        struct telling t = tell(s, draft->circuit);
        return wrong(r, line_near(s, "circuit"), "%s: there is no section [circuit %s]", t.where, t.value);
    }
    c->group = group_of(rig, draft->group);
    return true;
}

static int channel_find(const struct tc_rig *rig, int number)
{
    for (size_t i = 0; i < rig->channel_count; i++)
        if (rig->channels[i].number == number) return (int)i;
    return -1;
}

static bool place_parent(struct reading *r, const struct section *s, struct tc_channel *c)
{
    int parent = s->is.channel.parent, line = line_near(s, "parent");
    if (!parent) return true;
    if (c->kind == TC_FLOOD)
        return wrong(r, line, "channel %d: a flood grows from no branch: leave parent empty", c->number);
    if (parent == c->number)
        return wrong(r, line, "channel %d: parent %d is the channel itself: give the branch that it grows from, or leave it empty for a root", c->number, parent);
    c->parent = channel_find(r->rig, parent);
    if (c->parent < 0)
        return wrong(r, line, "channel %d: parent %d is not there: there is no section [channel %d]", c->number, parent, parent);
    if (r->rig->channels[c->parent].kind != TC_BRANCH)
        return wrong(r, line, "channel %d: parent %d is a flood: only branches have forks", c->number, parent);
    return true;
}

/* No branch is its own ancestor. `by` are the channels' sections in rig order. */
static bool check_loops(struct reading *r, struct section *const *by)
{
    const struct tc_rig *rig = r->rig;
    for (size_t i = 0; i < rig->channel_count; i++) {
        int at = rig->channels[i].parent;
        size_t steps = 0;
        while (at >= 0 && at != (int)i && steps++ < rig->channel_count) at = rig->channels[at].parent;
        if (at != (int)i) continue; /* ends at a root, or in a loop that others form */
        char chain[120];
        size_t used = (size_t)snprintf(chain, sizeof chain, "%d", rig->channels[i].number);
        do {
            at = rig->channels[at].parent;
            used += (size_t)snprintf(chain + used, sizeof chain - used, " - %d", rig->channels[at].number);
        } while (at != (int)i && used < sizeof chain - 24);
        return wrong(r, line_near(by[i], "parent"), "channel %d: its parents form a loop (%s%s): leave one parent empty, for a root",
                     rig->channels[i].number, chain, at == (int)i ? "" : " - ...");
    }
    return true;
}

static bool place_channels(struct reading *r, struct section **by)
{
    size_t n = 0;
    for (size_t i = 0; i < r->section_count; i++)
        if (r->sections[i].type == IN_CHANNEL) by[n++] = &r->sections[i];
    qsort(by, n, sizeof *by, by_number);
    for (size_t i = 0; i < n; i++)
        if (!place_channel(r, by[i])) return false;
    for (size_t i = 0; i < n; i++)
        if (!place_parent(r, by[i], &r->rig->channels[i])) return false;
    return check_loops(r, by);
}

static bool place_banks(struct reading *r)
{
    for (size_t i = 0; i < r->section_count; i++) {
        const struct section *s = &r->sections[i];
        if (s->type != IN_BANK) continue;
        struct telling t = tell(s, "");
        if (s->is.bank.first > s->is.bank.last)
            return wrong(r, line_near(s, "last"), "%s: last %d is before first %d", t.where, s->is.bank.last, s->is.bank.first);
        struct tc_bank *b = &r->rig->banks[r->rig->bank_count++];
        *b = s->is.bank;
        name_set(b->name, s->name);
    }
    return true;
}

static bool place_overhead(struct reading *r)
{
    for (size_t i = 0; i < r->section_count; i++) {
        const struct section *s = &r->sections[i];
        if (s->type != IN_OVERHEAD) continue;
        struct tc_overhead *o = &r->rig->overhead;
        *o = s->is.overhead;
        o->given = true;
        o->metric = key_line(s, "span_m") != 0;
        if (o->sag_m >= o->span_m / 2) {
            int line = key_line(s, "sag_ft") + key_line(s, "sag_in") + key_line(s, "sag_m");
            return wrong(r, line, "overhead: the sag is half the span or more: it is how far the middle hangs below the ends");
        }
        if (!(o->centre_n > 0) && !(o->uniform_n_per_m > 0))
            return wrong(r, s->line, "overhead: nothing hangs on it: write centre_lb, centre_kg, uniform_lb_per_ft or uniform_kg_per_m");
    }
    return true;
}

static bool build_rig(struct reading *r)
{
    struct tc_rig *rig = r->rig;
    size_t channels = sections_of(r, IN_CHANNEL);
    if (!r->section_count)
        return wrong(r, 0, "there is nothing in it: a rig file has at least a [circuit NAME] and a [channel N]");
    if (!check_needed(r)) return false;
    if (!channels) return wrong(r, 0, "it has no channels: write a section [channel N] for each");

    struct section **by = calloc(channels, sizeof *by);
    rig->channels = calloc(channels, sizeof *rig->channels);
    rig->groups = calloc(channels, sizeof *rig->groups);
    rig->circuits = calloc(sections_of(r, IN_CIRCUIT) + 1, sizeof *rig->circuits);
    rig->banks = calloc(sections_of(r, IN_BANK) + 1, sizeof *rig->banks);
    bool fine = false;
    if (!by || !rig->channels || !rig->groups || !rig->circuits || !rig->banks)
        r->status = problem_set(r->why, TC_ERR_MEMORY, "%s", tc_status_text(TC_ERR_MEMORY));
    else
        fine = place_circuits(r) && place_channels(r, by) && place_banks(r) && place_overhead(r);
    free(by);
    return fine;
}

/* ---- The file ---- */

static bool read_all(struct reading *r)
{
    int stopped = ini_parse_stream(next_line, r, take_line, r);
    if (r->status == TC_OK && ferror(r->in)) return wrong(r, 0, "can't be read: %s", strerror(errno));
    if (r->status != TC_OK) return false;
    /* inih refuses nothing that the reader let through; if another version does, say at least where. */
    if (stopped > 0) return wrong(r, stopped, "not a line of the form key = value");
    if (stopped < 0) r->status = problem_set(r->why, TC_ERR_MEMORY, "%s", tc_status_text(TC_ERR_MEMORY));
    return stopped == 0;
}

enum tc_status tc_rig_read(const char *path, struct tc_rig *out, struct tc_problem *why)
{
    *out = (struct tc_rig){ .mains_volts = 120, .mains_hz = 60 };
    struct reading r = { .rig = out, .why = why, .status = TC_OK };
    bool standard_input = !strcmp(path, "-");
    text_plain(r.shown, sizeof r.shown, standard_input ? "standard input" : path);
    r.in = standard_input ? stdin : fopen(path, "rb");
    if (!r.in) return problem_set(why, TC_ERR_RIG, "%s: can't be read: %s", r.shown, strerror(errno));

    if (read_all(&r)) build_rig(&r);
    if (!*out->name) {
        const char *slash = strrchr(r.shown, '/');
        name_set(out->name, slash ? slash + 1 : r.shown);
    }
    if (!standard_input) fclose(r.in);
    free(r.sections);
    if (r.status != TC_OK) tc_rig_clear(out);
    return r.status;
}
