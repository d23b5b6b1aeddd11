#include "rig/rig_text.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "rig/rig_value.h"
#include "words/memory.h"
#include "words/network.h"
#include "words/numbers.h"
#include "words/status.h"
#include "words/text.h"

struct tc_network rig_file_network(void)
{
    return (struct tc_network){ .universe = 1, .first_slot = 1, .priority = PRIORITY_USUAL };
}

struct tc_channel rig_file_channel(void)
{
    return (struct tc_channel){ .parent = -1, .group = -1, .max_level = 100 }; /* an LED, linear */
}

/* ---- Errors ---- */

bool rig_file_wrong(struct rig_file *f, int line, const char *format, ...)
{
    if (f->status == TC_ERR_MEMORY) return false;
    f->status = TC_ERR_RIG;
    size_t n = f->found.count++;
    if (n >= RIG_PROBLEMS_MOST) return false;
    char text[700];
    va_list args;
    va_start(args, format);
    vsnprintf(text, sizeof text, format, args);
    va_end(args);
    while (n > 0 && f->found.at[n - 1].line > line) {
        f->found.at[n] = f->found.at[n - 1];
        n--;
    }
    f->found.at[n].line = line;
    if (line) problem_set(&f->found.at[n].is, TC_ERR_RIG, "%s:%d: %s", f->shown, line, text);
    else problem_set(&f->found.at[n].is, TC_ERR_RIG, "%s: %s", f->shown, text);
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
    return rig_file_wrong(f, f->lines.line, "%s", text);
}

bool rig_file_memory(struct rig_file *f)
{
    f->status = TC_ERR_MEMORY;
    return false;
}

/* "channel 4", "circuit left", "rig". */
static const char *label(char *to, size_t size, const struct section *s)
{
    char plain[64];
    text_plain(plain, sizeof plain, s->name);
    snprintf(to, size, "%s%s%s", section_row(s->type)->word, *plain ? " " : "", plain);
    return to;
}

/* ---- Sections ---- */

/* "[rig], [circuit NAME], ... and [overhead]" */
static const char *list_sections(char *to, size_t size)
{
    size_t used = 0;
    for (enum section_type t = IN_NONE + 1; t < SECTION_TYPES && used < size; t++) {
        const char *join = t == IN_NONE + 1 ? "" : t + 1 == SECTION_TYPES ? " and " : ", ";
        used += (size_t)snprintf(to + used, size - used, "%s%s", join, section_row(t)->form);
    }
    return to;
}

static bool unknown_section(struct rig_file *f, const char *word)
{
    char plain[64], all[200];
    const char *near = NULL;
    size_t least = 4;
    for (enum section_type t = IN_NONE + 1; t < SECTION_TYPES; t++) {
        size_t d = text_distance(word, section_row(t)->word);
        if (d < least) least = d, near = section_row(t)->form;
    }
    text_plain(plain, sizeof plain, word);
    if (near) return wrong(f, "there is no section [%s]; did you mean %s?", plain, near);
    return wrong(f, "there is no section [%s]; there are %s", plain, list_sections(all, sizeof all));
}

static struct section *section_add(struct rig_file *f)
{
    if (f->section_count == SECTIONS_MOST) {
        wrong(f, "more than %d sections", SECTIONS_MOST);
        f->lines.at = f->lines.end;
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

static bool begin_section(struct rig_file *f)
{
    const char *word = f->lines.word, *name = f->lines.name;
    char plain[64];
    enum section_type type = section_find(word);
    if (type == IN_NONE) return unknown_section(f, word);
    const struct section_row *row = section_row(type);
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
    s->line = f->lines.line;
    snprintf(s->name, sizeof s->name, "%s", name);
    if (type == IN_NETWORK) s->is.network = rig_file_network();
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
    case IN_DEFAULTS:
    case IN_CHANNEL:  return (char *)&s->is.channel;
    case IN_BANK:     return (char *)&s->is.bank;
    case IN_OVERHEAD: return (char *)&s->is.overhead;
    case IN_NETWORK:  return (char *)&s->is.network;
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

static bool unknown_key(struct rig_file *f, const struct section *s, const char *name)
{
    struct telling t = section_tell(s, name);
    const struct section_row *row = section_row(s->type);
    const char *near = NULL;
    size_t least = 5;
    for (size_t k = 0; k < row->key_count; k++) {
        size_t d = text_farness(name, row->keys[k].name);
        if (d < least && d < strlen(row->keys[k].name)) least = d, near = row->keys[k].name;
    }
    if (near)
        return wrong(f, "%s: there is no key '%s' in %s; did you mean %s?", t.where, t.value, row->form, near);
    for (enum section_type other = IN_NONE + 1; other < SECTION_TYPES; other++)
        if (key_find(section_row(other), name))
            return wrong(f, "%s: %s is no key of %s but of %s", t.where, t.value, row->form, section_row(other)->form);
    return wrong(f, "%s: there is no key '%s' in %s", t.where, t.value, row->form);
}

/* A key that belongs to one channel alone, in [defaults]. */
static bool is_excepted(const struct section_row *row, const struct key *key)
{
    char word[80];
    snprintf(word, sizeof word, " %s ", key->name);
    return strstr(row->except, word) != NULL;
}

static bool take_pair(struct rig_file *f)
{
    const char *name = f->lines.key, *value = f->lines.value;
    if (!f->section_count) {
        char plain[64];
        return wrong(f, "%s stands before the first [section]", text_plain(plain, sizeof plain, name));
    }
    struct section *s = &f->sections[f->section_count - 1];
    const struct section_row *row = section_row(s->type);
    const struct key *key = key_find(row, name);
    if (!key) return unknown_key(f, s, name);
    if (is_excepted(row, key))
        return wrong(f, "%s: %s belongs to one channel: write it in its [channel N]", row->word, key->name);
    for (size_t k = 0; k < row->key_count; k++) {
        if (row->keys[k].offset != key->offset || !s->key_line[k]) continue;
        struct telling t = section_tell(s, "");
        if (&row->keys[k] == key)
            return wrong(f, "%s: %s is there twice (first in line %d)", t.where, key->name, s->key_line[k]);
        return wrong(f, "%s: %s says again what %s says in line %d: keep one", t.where, key->name,
                     row->keys[k].name, s->key_line[k]);
    }
    s->key_line[key - row->keys] = f->lines.line;
    struct telling t = section_tell(s, "");
    struct rig_value v = { .where = t.where, .key = key, .text = value };
    return rig_value_take(&v, section_target(s)) || wrong(f, "%s", v.wrong);
}

int section_key_line(const struct section *s, const char *name)
{
    const struct section_row *row = section_row(s->type);
    const struct key *key = key_find(row, name);
    return key ? s->key_line[key - row->keys] : 0;
}

int section_line_near(const struct section *s, const char *name)
{
    int line = section_key_line(s, name);
    return line ? line : s->line;
}

/* ---- All of it ---- */

static bool quantity_given(const struct section *s, size_t offset)
{
    const struct section_row *row = section_row(s->type);
    for (size_t k = 0; k < row->key_count; k++)
        if (row->keys[k].offset == offset && s->key_line[k]) return true;
    return false;
}

/* Every key that a section needs is there. */
static void check_section(struct rig_file *f, struct section *s)
{
    const struct section_row *row = section_row(s->type);
    for (size_t k = 0; k < row->key_count; k++) {
        const struct key *key = &row->keys[k];
        if (!key->example) continue;
        bool blank = key->type == KEY_TEXT && !*(section_target(s) + key->offset);
        if (quantity_given(s, key->offset) && !blank) continue;
        char where[80];
        int line = s->key_line[k] ? s->key_line[k] : s->line;
        size_t word = strcspn(key->name, "_"); /* "span" of "span_ft" */
        bool units = s->type == IN_OVERHEAD;
        rig_file_wrong(f, line, "%s: %.*s is missing: write %s", label(where, sizeof where, s),
                       units ? (int)word : (int)strlen(key->name), key->name, key->example);
    }
}

/* What is missing, but not where something else explains it. */
static void check_needed(struct rig_file *f)
{
    bool defaults_wrong = f->incomplete;
    for (size_t i = 0; i < f->section_count; i++)
        defaults_wrong = defaults_wrong || (f->sections[i].type == IN_DEFAULTS && f->sections[i].wrong);
    for (size_t i = 0; i < f->section_count; i++) {
        struct section *s = &f->sections[i];
        if (s->type == IN_DEFAULTS || s->wrong || (s->type == IN_CHANNEL && defaults_wrong)) continue;
        check_section(f, s);
    }
}

/* What [defaults] say goes to every channel that doesn't say otherwise. */
static void apply_defaults(struct rig_file *f)
{
    struct section *defaults = NULL;
    for (size_t i = 0; i < f->section_count && !defaults; i++)
        if (f->sections[i].type == IN_DEFAULTS) defaults = &f->sections[i];
    if (!defaults) return;
    const struct section_row *row = section_row(IN_CHANNEL);
    for (size_t i = 0; i < f->section_count; i++) {
        struct section *s = &f->sections[i];
        for (size_t k = 0; k < row->key_count && s->type == IN_CHANNEL; k++) {
            const struct key *key = &row->keys[k];
            if (!defaults->key_line[k] || quantity_given(s, key->offset)) continue;
            s->key_line[k] = defaults->key_line[k];
            memcpy(section_target(s) + key->offset, section_target(defaults) + key->offset, key_size(key->type));
        }
    }
}

/* A line that says something. What is wrong marks the section that it is in. */
static void take_line(struct rig_file *f, enum ini_line line)
{
    bool heading = *f->lines.text == '[';
    if (f->passing && !heading) return;
    bool fine = line == INI_WRONG ? wrong(f, "%s", f->lines.wrong) : heading ? begin_section(f) : take_pair(f);
    if (heading) {
        f->passing = !fine;
        f->incomplete = f->incomplete || f->passing;
        return;
    }
    if (!fine && f->section_count) f->sections[f->section_count - 1].wrong = true;
    else if (!fine) f->incomplete = f->passing = true; /* before the first heading: once is enough */
}

bool rig_file_read(struct rig_file *f, const char *text, size_t size)
{
    ini_begin(&f->lines, text, size);
    for (enum ini_line line; f->status != TC_ERR_MEMORY && (line = ini_next(&f->lines)) != INI_END;) take_line(f, line);
    if (f->status == TC_OK && !f->section_count)
        return rig_file_wrong(f, 0,
                              "there is nothing in it: a rig file has at least a [circuit NAME] and a [channel N]");
    if (f->status == TC_ERR_MEMORY) return false;
    apply_defaults(f);
    check_needed(f);
    return f->status == TC_OK;
}
