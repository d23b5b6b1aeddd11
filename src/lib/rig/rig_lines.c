#include "rig/rig_lines.h"

#include <string.h>

#include "words/ini_text.h"
#include "words/memory.h"
#include "words/numbers.h"

bool stretch_same(struct stretch a, struct stretch b)
{
    if (!a.at || !b.at) return !a.at && !b.at;
    return a.size == b.size && !memcmp(a.at, b.at, a.size);
}

static bool room_for(void **things, size_t count, size_t *room, size_t size)
{
    if (count < *room) return true;
    size_t more = *room ? 2 * *room : 64;
    void *resized = memory_resize(*things, more * size);
    if (!resized) return false;
    *things = resized;
    *room = more;
    return true;
}

static struct rig_line *add_line(struct rig_lines *l)
{
    void *lines = l->lines;
    bool fits = room_for(&lines, l->line_count, &l->line_room, sizeof *l->lines);
    l->lines = lines;
    return fits ? &l->lines[l->line_count++] : NULL;
}

static struct rig_part *add_part(struct rig_lines *l)
{
    void *parts = l->parts;
    bool fits = room_for(&parts, l->part_count, &l->part_room, sizeof *l->parts);
    l->parts = parts;
    return fits ? &l->parts[l->part_count++] : NULL;
}

/* From `at` to behind the end of its line. */
static struct rig_line line_at(const char *at, const char *end)
{
    const char *stop = at;
    while (stop < end && *stop != '\n' && *stop != '\r') stop++;
    const char *next = stop < end ? stop + 1 : stop;
    if (next < end && *stop == '\r' && *next == '\n') next++;
    bool blank = true;
    for (const char *c = at; c < stop && blank; c++) blank = strchr(" \t\v\f", *c) != NULL;
    return (struct rig_line){ .all = { at, (size_t)(next - at) }, .end_size = (size_t)(next - stop), .blank = blank };
}

/* Where a word of the line that `i` has read lies in the text. */
static struct stretch place(const struct ini *i, const struct rig_line *line, const char *word)
{
    const char *first = line->all.at;
    if (line->all.size >= 3 && !memcmp(first, "\xEF\xBB\xBF", 3)) first += 3;
    while (strchr(" \t\v\f", *first)) first++;
    return (struct stretch){ first + (word - i->text), strlen(word) };
}

static enum tc_status take_line(struct rig_lines *l, const char *at, const char *end, const char **next)
{
    struct rig_line *line = add_line(l);
    if (!line) return TC_ERR_MEMORY;
    *line = line_at(at, end);
    *next = at + line->all.size;
    struct ini i;
    ini_begin(&i, at, line->all.size - line->end_size);
    switch (ini_next(&i)) {
    case INI_END:
        return TC_OK;
    case INI_WRONG:
        return TC_ERR_RIG;
    case INI_HEADING: {
        struct rig_part *part = add_part(l);
        int64_t number = 0;
        if (!part) return TC_ERR_MEMORY;
        *part = (struct rig_part){ .type = section_find(i.word), .heading = l->line_count - 1, .last = l->line_count - 1 };
        if (part->type == IN_NONE || (part->type == IN_CHANNEL && !number_read_whole(i.name, &number))) return TC_ERR_RIG;
        part->number = (int)number;
        part->name = line->value = place(&i, line, i.name);
        return TC_OK;
    }
    case INI_VALUE:
        break;
    }
    struct rig_part *part = l->part_count ? &l->parts[l->part_count - 1] : NULL;
    line->key = part ? key_find(section_row(part->type), i.key) : NULL;
    if (!line->key) return TC_ERR_RIG;
    line->value = place(&i, line, i.value);
    part->last = l->line_count - 1;
    return TC_OK;
}

enum tc_status rig_lines_read(struct rig_lines *out, const char *text, size_t size)
{
    *out = (struct rig_lines){ .line_count = 0 };
    enum tc_status status = TC_OK;
    for (const char *at = text, *end = text + size; at < end && status == TC_OK;) status = take_line(out, at, end, &at);
    return status;
}

void rig_lines_clear(struct rig_lines *l)
{
    memory_free(l->lines);
    memory_free(l->parts);
    *l = (struct rig_lines){ .line_count = 0 };
}

const struct rig_part *rig_lines_part(const struct rig_lines *l, const struct rig_part *like)
{
    for (size_t i = 0; i < l->part_count; i++) {
        const struct rig_part *p = &l->parts[i];
        if (p->type != like->type) continue;
        if (p->type == IN_CHANNEL ? p->number == like->number : stretch_same(p->name, like->name)) return p;
    }
    return NULL;
}

const struct rig_part *rig_lines_first(const struct rig_lines *l, enum section_type type)
{
    for (size_t i = 0; i < l->part_count; i++)
        if (l->parts[i].type == type) return &l->parts[i];
    return NULL;
}

struct stretch rig_lines_value(const struct rig_lines *l, const struct rig_part *part, const struct key *key)
{
    for (size_t n = part ? part->heading + 1 : 1; part && n <= part->last; n++)
        if (l->lines[n].key == key) return l->lines[n].value;
    return (struct stretch){ NULL, 0 };
}
