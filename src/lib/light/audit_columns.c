#include "light/audit_columns.h"

#include <stdio.h>
#include <string.h>

#include "words/numbers.h"
#include "words/text.h"

size_t audit_time_column(struct csv *csv)
{
    for (size_t i = 0; i < csv_count(csv); i++)
        if (text_same(csv_word(csv, i), "time_s")) return i;
    return 0;
}

bool audit_is_named(const struct tc_channel *c, const char *name)
{
    char plain[TC_NAME_SIZE + 8];
    return !strcmp(c->name, name) || !strcmp(text_plain(plain, sizeof plain, c->name), name);
}

size_t audit_find_channel(const struct tc_rig *rig, const char *name, size_t try_first)
{
    if (try_first < rig->channel_count && audit_is_named(&rig->channels[try_first], name)) return try_first;
    for (size_t i = 0; i < rig->channel_count; i++)
        if (audit_is_named(&rig->channels[i], name)) return i;
    return NO_CHANNEL;
}

bool audit_find_output(const struct tc_rig *rig, const char *cell, size_t *channel)
{
    size_t digits = strspn(cell, "0123456789");
    char word[8];
    int64_t number;
    snprintf(word, sizeof word, "%.*s", (int)digits, cell);
    if (!digits || digits > 3 || !number_read_whole(word, &number) || number < 1 || number > TC_MAX_CHANNELS)
        return false;
    const char *name = cell[digits] == ' ' ? cell + digits + 1 : cell[digits] ? NULL : "";
    if (!name) return false;
    *channel = NO_CHANNEL;
    for (size_t c = 0; c < rig->channel_count; c++)
        if (rig->channels[c].number == (int)number) *channel = c;
    return *channel == NO_CHANNEL ? !*name : audit_is_named(&rig->channels[*channel], name);
}

/* What a table is if this is its header row, else NULL. */
static const char *match(struct csv *csv, const struct audit_table *t)
{
    int found = 0;
    for (size_t i = 0; i < csv_count(csv); i++)
        found += text_same(csv_word(csv, i), t->first) || text_same(csv_word(csv, i), t->second);
    return found >= 2 ? t->is : NULL;
}

const char *audit_other_table(struct csv *csv, const struct audit_table *others)
{
    static const struct audit_table own[] = {
        { "channel", "start_level", "a ramps file" }, { "kind", "start_s", "an events or label file" }, { 0 },
    };
    const char *is = NULL;
    for (const struct audit_table *t = own; t->is && !is; t++) is = match(csv, t);
    for (const struct audit_table *t = others; t && t->is && !is; t++) is = match(csv, t);
    return is;
}
