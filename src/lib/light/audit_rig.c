/* The columns of an audited table and the channels that they are. */
#include "light/audit_columns.h"
#include "light/audit_reading.h"
#include "words/csv.h"
#include "words/memory.h"
#include "words/text.h"

bool audit_columns_are_outputs(const struct audit_reading *r, const struct tc_rig *rig)
{
    size_t same = 0, channel;
    for (size_t i = 0; i < r->columns; i++)
        same += i != r->time && audit_find_output(rig, csv_word(r->csv, i), &channel);
    return 4 * same >= 3 * (r->columns - 1);
}

void audit_match_rig(struct audit_reading *r)
{
    const struct tc_rig *rig = &r->out->rig;
    bool *seen = r->out->lit; /* not yet in use */
    char plain[100];
    for (size_t i = 0; i < r->columns; i++) {
        if (i == r->time) continue;
        const char *name = csv_unguarded(csv_word(r->csv, i));
        size_t channel = NO_CHANNEL;
        bool output = r->numbered && audit_find_output(rig, name, &channel);
        if (!output) channel = audit_find_channel(rig, name, audit_nth(r, i));
        text_plain(plain, sizeof plain, name);
        if (channel == NO_CHANNEL) {
            if (!output) audit_note_misfit(r, i + 1, "\"%s\" is no channel of the rig", plain);
        } else if (seen[channel]) {
            audit_note_misfit(r, i + 1, "\"%s\" is there twice", plain);
            channel = NO_CHANNEL;
        } else {
            seen[channel] = true;
            if (!output && channel != audit_nth(r, i))
                audit_note(r, AUDIT_RIG, i + 1, "\"%s\" is channel %d of the rig, out of its order", plain,
                       rig->channels[channel].number);
        }
        r->channel_of[i] = channel;
    }
    for (size_t c = 0; c < rig->channel_count; c++) {
        if (!seen[c])
            audit_note_misfit(r, 0, "no column for channel %d \"%s\"", rig->channels[c].number,
                              text_plain(plain, sizeof plain, rig->channels[c].name));
        seen[c] = false;
    }
}

bool audit_columns_suit(const struct audit_reading *r, const struct tc_rig *rig)
{
    size_t same = 0, count = r->columns - 1;
    if (audit_columns_are_outputs(r, rig)) return true;
    if (count != rig->channel_count) return false;
    for (size_t i = 0; i < r->columns; i++)
        same += i != r->time && audit_is_named(&rig->channels[audit_nth(r, i)], csv_unguarded(csv_word(r->csv, i)));
    return 4 * same >= 3 * count;
}

enum tc_status audit_make_rig(struct audit_reading *r)
{
    struct tc_rig *rig = &r->out->rig;
    rig->channels = memory_new(r->columns, sizeof *rig->channels);
    if (!rig->channels) return TC_ERR_MEMORY;
    r->out->own_rig = true;
    rig->channel_count = r->columns - 1;
    for (size_t i = 0; i < r->columns; i++) {
        if (i == r->time) continue;
        struct tc_channel *c = &rig->channels[audit_nth(r, i)];
        c->number = (int)audit_nth(r, i) + 1;
        c->kind = TC_BRANCH;
        c->parent = c->group = c->circuit = -1;
        c->max_level = 100;
        text_plain(c->name, sizeof c->name, csv_unguarded(csv_word(r->csv, i)));
        r->channel_of[i] = audit_nth(r, i);
        char plain[100];
        if (audit_find_channel(&(struct tc_rig){ .channels = rig->channels, .channel_count = audit_nth(r, i) }, c->name,
                               0) != NO_CHANNEL)
            audit_note(r, AUDIT_RIG, i + 1, "\"%s\" is there twice", text_plain(plain, sizeof plain, c->name));
    }
    return TC_OK;
}
