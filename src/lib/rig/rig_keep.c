#include "rig/rig_keep.h"

#include <stdio.h>
#include <string.h>

#include "rig/rig_lines.h"
#include "rig/rig_text.h"
#include "words/memory.h"
#include "words/numbers.h"
#include "words/sink.h"

struct made {
    char *bytes;
    size_t size, room;
};

static enum tc_status take_bytes(void *to, const char *bytes, size_t size)
{
    struct made *m = to;
    if (m->size + size > m->room) {
        size_t room = 2 * (m->size + size);
        char *more = memory_resize(m->bytes, room);
        if (!more) return TC_ERR_MEMORY;
        m->bytes = more;
        m->room = room;
    }
    memcpy(m->bytes + m->size, bytes, size);
    m->size += size;
    return TC_OK;
}

/* What becomes of a section of the text. */
struct fate {
    const struct rig_part *was, *is; /* as the library writes it, before and now; NULL where it isn't written */
    bool gone, renamed;
};

struct keeping {
    struct rig_lines text;        /* as somebody wrote it */
    struct made was_made, is_made;
    struct rig_lines was, is;     /* the rig in it and the changed one, as the library writes them */
    struct fate *fates;           /* of the text's sections */
    bool *placed;                 /* sections of `is` that have one in the text */
    bool other_mains;             /* circuits without volts of their own have other ones */
    struct stretch end;              /* of the text's lines */
    struct writer *out;
    bool open_line, after_blank;  /* how what is written so far ends */
};

/* ---- Writing ---- */

static void put(struct keeping *k, const char *bytes, size_t size)
{
    writer_bytes(k->out, bytes, size);
}

static void put_stretch(struct keeping *k, struct stretch s)
{
    put(k, s.at, s.size);
}

/* Ends a line that the text left open. */
static void close_line(struct keeping *k)
{
    if (k->open_line) put_stretch(k, k->end);
    k->open_line = false;
}

static void put_line(struct keeping *k, const struct rig_line *line)
{
    put_stretch(k, line->all);
    k->open_line = !line->end_size;
    k->after_blank = line->blank;
}

/* A line with another value, or another name in its heading. */
static void put_changed(struct keeping *k, const struct rig_line *line, struct stretch value)
{
    const char *from = line->all.at, *end = from + line->all.size;
    put(k, from, (size_t)(line->value.at - from));
    if (!line->value.size && line->key && strchr("=:", line->value.at[-1])) put(k, " ", 1);
    put_stretch(k, value);
    const char *rest = line->value.at + line->value.size;
    put(k, rest, (size_t)(end - rest));
    k->open_line = !line->end_size;
    k->after_blank = false;
}

/* A line of its own, indented as another is. */
static void put_key(struct keeping *k, const struct rig_line *like, const char *key, struct stretch value)
{
    close_line(k);
    const char *at = like->all.at;
    while (like->key && strchr(" \t", *at)) put(k, at++, 1);
    writer_text(k->out, key);
    writer_text(k->out, value.size ? " = " : " =");
    put_stretch(k, value);
    put_stretch(k, k->end);
    k->after_blank = false;
}

/* ---- What has changed ---- */

/* What [defaults] say of a key, with the new name of a circuit. */
static struct stretch default_of(const struct keeping *k, const struct key *key)
{
    struct stretch value = rig_lines_value(&k->text, rig_lines_first(&k->text, IN_DEFAULTS), key);
    if (!value.at || strcmp(key->name, "circuit")) return value;
    for (size_t p = 0; p < k->text.part_count; p++)
        if (k->fates[p].renamed && k->text.parts[p].type == IN_CIRCUIT && stretch_same(value, k->text.parts[p].name))
            return k->fates[p].is->name;
    return value;
}

/* A value that a channel has where nobody says anything, for one to take back
 * what [defaults] say; false where no text says it. */
static bool usual_value(const struct key *key, char *to, size_t size)
{
    struct channel_draft usual = { .is = rig_file_channel() };
    const char *at = (const char *)&usual + key->offset;
    double number;
    *to = 0;
    if (key->type == KEY_TEXT) return !strcmp(key->name, "group");
    if (key->type == KEY_CHOICE) {
        int which;
        memcpy(&which, at, sizeof which);
        snprintf(to, size, "%s", key->words[which].name);
        return !key->example;
    }
    if (key->type != KEY_NUMBER) return false;
    memcpy(&number, at, sizeof number);
    number_show(to, size, number, 6);
    return number >= key->least;
}

static bool differs(const struct keeping *k, const struct fate *f, const struct key *key)
{
    return !stretch_same(rig_lines_value(&k->was, f->was, key), rig_lines_value(&k->is, f->is, key));
}

/* The same quantity in another unit has changed. */
static bool twin_differs(const struct keeping *k, const struct fate *f, const struct section_row *row, const struct key *key)
{
    for (size_t n = 0; n < row->key_count; n++)
        if (&row->keys[n] != key && row->keys[n].offset == key->offset && differs(k, f, &row->keys[n])) return true;
    return false;
}

/* ---- Sections ---- */

static void keep_key(struct keeping *k, const struct rig_part *part, const struct fate *f, const struct rig_line *line)
{
    const struct key *key = line->key;
    struct stretch is = rig_lines_value(&k->is, f->is, key);
    bool channel = part->type == IN_CHANNEL;
    char usual[SHOWN_ROOM];
    if (part->type == IN_DEFAULTS) {
        struct stretch value = default_of(k, key);
        if (!stretch_same(value, line->value)) put_changed(k, line, value);
        else put_line(k, line);
    } else if (!differs(k, f, key)) {
        bool of_mains = part->type == IN_CIRCUIT && !strcmp(key->name, "volts") && k->other_mains && !is.at;
        if (!of_mains && !twin_differs(k, f, section_row(part->type), key)) put_line(k, line);
    } else if (is.at) {
        put_changed(k, line, is);
    } else if (channel && default_of(k, key).at && usual_value(key, usual, sizeof usual)) {
        put_changed(k, line, (struct stretch){ usual, strlen(usual) });
    }
}

/* What the section says now and has no line for. */
static void add_keys(struct keeping *k, const struct rig_part *part, const struct fate *f)
{
    const struct section_row *row = section_row(part->type);
    const struct rig_line *like = &k->text.lines[part->last];
    for (size_t n = 0; n < row->key_count; n++) {
        const struct key *key = &row->keys[n];
        char usual[SHOWN_ROOM];
        if (rig_lines_value(&k->text, part, key).at) continue;
        /* A channel without a name goes by its number. */
        if (!differs(k, f, key) && !(f->renamed && !strcmp(key->name, "name"))) continue;
        struct stretch is = rig_lines_value(&k->is, f->is, key);
        struct stretch by_default = part->type == IN_CHANNEL ? default_of(k, key) : (struct stretch){ NULL, 0 };
        if (is.at && !stretch_same(is, by_default)) put_key(k, like, key->name, is);
        else if (!is.at && by_default.at && usual_value(key, usual, sizeof usual))
            put_key(k, like, key->name, (struct stretch){ usual, strlen(usual) });
    }
}

static void put_heading(struct keeping *k, const struct rig_part *part)
{
    close_line(k);
    writer_text(k->out, "[");
    writer_text(k->out, section_row(part->type)->word);
    if (part->name.size) writer_text(k->out, " ");
    put_stretch(k, part->name);
    writer_text(k->out, "]");
    put_stretch(k, k->end);
}

/* Sections of a kind that the text has none of yet. */
static void add_sections(struct keeping *k, enum section_type type, bool airy)
{
    for (size_t p = 0; p < k->is.part_count; p++) {
        const struct rig_part *part = &k->is.parts[p];
        if (part->type != type || k->placed[p]) continue;
        close_line(k);
        if (airy) put_stretch(k, k->end);
        put_heading(k, part);
        for (size_t n = part->heading + 1; n <= part->last; n++)
            put_key(k, &k->is.lines[n], k->is.lines[n].key->name, k->is.lines[n].value);
        k->placed[p] = true;
    }
}

/* [rig] for a text that has none, where something in it is new. */
static void add_rig(struct keeping *k)
{
    const struct section_row *row = section_row(IN_RIG);
    struct fate f = { .was = rig_lines_first(&k->was, IN_RIG), .is = rig_lines_first(&k->is, IN_RIG) };
    bool headed = false;
    for (size_t n = 0; n < row->key_count; n++) {
        struct stretch is = rig_lines_value(&k->is, f.is, &row->keys[n]);
        if (!is.at || !differs(k, &f, &row->keys[n])) continue;
        if (!headed) put_heading(k, f.is);
        headed = true;
        put_key(k, &k->text.lines[k->text.parts[0].heading], row->keys[n].name, is);
    }
    if (headed) put_stretch(k, k->end);
}

static bool last_of_kind(const struct rig_lines *l, size_t p)
{
    for (size_t i = p + 1; i < l->part_count; i++)
        if (l->parts[i].type == l->parts[p].type) return false;
    return true;
}

/* The lines of a section, from its heading to its last key, and what comes new behind them. */
static void put_part(struct keeping *k, size_t p)
{
    const struct rig_part *part = &k->text.parts[p];
    const struct fate *f = &k->fates[p];
    for (size_t n = part->heading; !f->gone && n <= part->last; n++) {
        const struct rig_line *line = &k->text.lines[n];
        if (line->key) keep_key(k, part, f, line);
        else if (n == part->heading && f->renamed) put_changed(k, line, f->is->name);
        else put_line(k, line);
    }
    if (!f->gone && part->type != IN_DEFAULTS) add_keys(k, part, f);
    if (last_of_kind(&k->text, p)) add_sections(k, part->type, part->heading && k->text.lines[part->heading - 1].blank);
}

static void put_text(struct keeping *k)
{
    const struct rig_lines *text = &k->text;
    bool skipping = false;
    for (size_t n = 0, p = 0; n < text->line_count; n++) {
        bool heading = p < text->part_count && text->parts[p].heading == n;
        if (!heading) {
            /* One blank line, not two, where a section was. */
            if (skipping && text->lines[n].blank && k->after_blank) continue;
            skipping = false;
            put_line(k, &text->lines[n]);
            continue;
        }
        if (!p && !rig_lines_first(text, IN_RIG)) add_rig(k);
        put_part(k, p);
        skipping = k->fates[p].gone;
        n = text->parts[p++].last;
    }
    for (enum section_type t = IN_NONE + 1; t < SECTION_TYPES; t++)
        if (t != IN_RIG) add_sections(k, t, true);
}

/* ---- Matching ---- */

/* Where one section of a kind went and one came, it has got another name. */
static void find_renamed(struct keeping *k, enum section_type type)
{
    size_t went = 0, came = 0, from = 0, to = 0;
    for (size_t p = 0; p < k->text.part_count; p++)
        if (k->text.parts[p].type == type && k->fates[p].gone) went++, from = p;
    for (size_t p = 0; p < k->is.part_count; p++)
        if (k->is.parts[p].type == type && !k->placed[p]) came++, to = p;
    if (went != 1 || came != 1) return;
    k->fates[from].gone = false;
    k->fates[from].renamed = true;
    k->fates[from].is = &k->is.parts[to];
    k->placed[to] = true;
}

static bool match(struct keeping *k)
{
    k->fates = memory_new(k->text.part_count + 1, sizeof *k->fates);
    k->placed = memory_new(k->is.part_count + 1, sizeof *k->placed);
    if (!k->fates || !k->placed) return false;
    for (size_t p = 0; p < k->text.part_count; p++) {
        struct fate *f = &k->fates[p];
        f->was = rig_lines_part(&k->was, &k->text.parts[p]);
        f->is = rig_lines_part(&k->is, &k->text.parts[p]);
        f->gone = f->was && !f->is;
        if (f->is) k->placed[f->is - k->is.parts] = true;
    }
    find_renamed(k, IN_CIRCUIT);
    find_renamed(k, IN_CHANNEL);
    find_renamed(k, IN_BANK);
    struct fate rig = { .was = rig_lines_first(&k->was, IN_RIG), .is = rig_lines_first(&k->is, IN_RIG) };
    k->other_mains = differs(k, &rig, key_find(section_row(IN_RIG), "mains_volts"));
    return true;
}

/* ---- All of it ---- */

/* The rig in a text, written. */
static enum tc_status write_read(const char *text, size_t size, const char *shown, struct made *to, struct tc_problem *why)
{
    struct tc_rig rig;
    enum tc_status status = tc_rig_read(text, size, shown, &rig, why);
    if (status != TC_OK) return status;
    status = tc_rig_write(&rig, (struct tc_sink){ take_bytes, to }, why);
    tc_rig_clear(&rig);
    return status;
}

static enum tc_status change(struct keeping *k, const char *text, size_t size, struct made *to)
{
    enum tc_status status = rig_lines_read(&k->text, text, size);
    if (status == TC_OK) status = rig_lines_read(&k->was, k->was_made.bytes, k->was_made.size);
    if (status == TC_OK) status = rig_lines_read(&k->is, k->is_made.bytes, k->is_made.size);
    if (status != TC_OK) return status;
    const struct rig_line *first = &k->text.lines[0];
    k->end = first->end_size ? (struct stretch){ first->all.at + first->all.size - first->end_size, first->end_size } : (struct stretch){ "\n", 1 };
    k->out = memory_new(1, sizeof *k->out);
    if (!k->out || !match(k)) return TC_ERR_MEMORY;
    writer_begin(k->out, (struct tc_sink){ take_bytes, to });
    put_text(k);
    return writer_end(k->out);
}

static void keeping_clear(struct keeping *k)
{
    rig_lines_clear(&k->text);
    rig_lines_clear(&k->was);
    rig_lines_clear(&k->is);
    memory_free(k->was_made.bytes);
    memory_free(k->is_made.bytes);
    memory_free(k->fates);
    memory_free(k->placed);
    memory_free(k->out);
}

static bool same(const struct made *m, const char *text, size_t size)
{
    return m->size == size && !memcmp(m->bytes, text, size);
}

enum tc_status rig_keep(const struct tc_rig *rig, const char *text, size_t size, const char *shown,
                        struct tc_sink to, bool *kept, struct tc_problem *why)
{
    struct keeping k = { .after_blank = true };
    struct made now = { .size = 0 }, again = { .size = 0 };
    enum tc_status status = write_read(text, size, shown, &k.was_made, why);
    *kept = false;
    if (status == TC_OK) status = tc_rig_write(rig, (struct tc_sink){ take_bytes, &k.is_made }, why);
    bool own = status == TC_OK && !same(&k.was_made, text, size);
    if (own) status = change(&k, text, size, &now);
    if (status == TC_OK) {
        if (own) status = write_read(now.bytes, now.size, shown, &again, NULL);
        *kept = status == TC_OK && (!own || same(&again, k.is_made.bytes, k.is_made.size));
        const struct made *chosen = own && *kept ? &now : &k.is_made;
        if (status == TC_OK || status == TC_ERR_RIG) status = to.write(to.to, chosen->bytes, chosen->size);
    }
    keeping_clear(&k);
    memory_free(now.bytes);
    memory_free(again.bytes);
    return status;
}
