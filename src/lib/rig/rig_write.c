/* A rig as a rig file that reads back as the same rig: its keys are those of
 * the tables that it is read by, and what is as it would be anyway is left out. */
#include <string.h>

#include "rig/rig_check.h"
#include "rig/rig_keys.h"
#include "rig/rig_text.h"
#include "words/numbers.h"
#include "words/sink.h"
#include "words/text.h"

/* A name that a rig file can carry: one line, no comment in it, nothing at its
 * ends that reading would trim. */
static bool name_fits(const char *name, bool heading)
{
    size_t n = strlen(name);
    for (size_t i = 0; i < n; i++) {
        char c = name[i];
        if (c == '\n' || c == '\r') return false;
        if (heading ? c == ']' : c == ';' && (!i || strchr(" \t\v\f", name[i - 1]))) return false;
    }
    return text_utf8(name) && (!n || (!strchr(" \t\v\f", name[0]) && !strchr(" \t\v\f", name[n - 1])));
}

static void put_text(struct writer *w, const char *key, const char *value)
{
    if (!name_fits(value, false)) w->status = w->status == TC_OK ? TC_ERR_USAGE : w->status;
    writer_text(w, key);
    writer_text(w, " = ");
    writer_text(w, value);
    writer_text(w, "\n");
}

static void put_heading(struct writer *w, enum section_type type, const char *name)
{
    if (!name_fits(name, true)) w->status = w->status == TC_OK ? TC_ERR_USAGE : w->status;
    writer_text(w, type == IN_RIG ? "[" : "\n[");
    writer_text(w, section_row(type)->word);
    writer_text(w, *name ? " " : "");
    writer_text(w, name);
    writer_text(w, "]\n");
}

/* The fewest digits that read back as the same number. */
static void put_number(struct writer *w, const struct key *key, double value)
{
    static const int digits[] = { 6, 10, 15, 16, 17 };
    char text[SHOWN_ROOM];
    for (size_t i = 0; i < sizeof digits / sizeof *digits; i++) {
        double again;
        number_show(text, sizeof text, value / key->factor, digits[i]);
        if (number_read(text, &again) && again * key->factor >= value && again * key->factor <= value) break;
    }
    put_text(w, key->name, text);
}

static void put_value(struct writer *w, const struct key *key, const char *at)
{
    if (key->type == KEY_TEXT) {
        put_text(w, key->name, at);
    } else if (key->type == KEY_NUMBER || key->type == KEY_SHARE) {
        double value;
        memcpy(&value, at, sizeof value);
        put_number(w, key, value);
    } else {
        int value;
        memcpy(&value, at, sizeof value);
        if (key->type == KEY_CHOICE) put_text(w, key->name, key->words[value].name);
        else put_number(w, key, value);
    }
}

/* A quantity with keys in several units has one of them: the first is in feet
 * and pounds, the last metric. */
static bool wrong_unit(const struct section_row *row, size_t k, bool metric)
{
    for (size_t other = 0; other < row->key_count; other++)
        if (row->keys[other].offset == row->keys[k].offset && (metric ? other > k : other < k)) return true;
    return false;
}

/* A whole number of 0 below the key's bounds stands for "not given". */
static bool not_given(const struct key *key, const char *at)
{
    int value;
    if (key->type != KEY_WHOLE) return false;
    memcpy(&value, at, sizeof value);
    return value == 0 && key->least > 0;
}

/* A section's keys whose values differ from `usual`. */
static void put_section(struct writer *w, enum section_type type, const char *name, const void *is,
                        const void *usual, bool metric)
{
    const struct section_row *row = section_row(type);
    put_heading(w, type, name);
    for (size_t k = 0; k < row->key_count; k++) {
        const struct key *key = &row->keys[k];
        const char *value = (const char *)is + key->offset, *as_usual = (const char *)usual + key->offset;
        bool same = key->type == KEY_TEXT ? !strcmp(value, as_usual) : !memcmp(value, as_usual, key_size(key->type));
        if ((!same || key->example) && !not_given(key, value) && !wrong_unit(row, k, metric)) put_value(w, key, value);
    }
}

/* Places that are not given differ from any that are: 0 is one. */
static void leave_out_places(struct tc_channel *c)
{
    if (!c->placed) c->x = c->y = -1;
    if (!c->start_placed) c->start_x = c->start_y = -1;
}

static void put_channel(struct writer *w, const struct tc_rig *rig, const struct tc_channel *c)
{
    struct channel_draft draft = { .is = *c }, usual = { .is = rig_file_channel() };
    char number[SHOWN_ROOM];
    leave_out_places(&draft.is);
    leave_out_places(&usual.is);
    number_show(number, sizeof number, c->number, 6);
    if (c->parent >= 0) draft.parent = rig->channels[c->parent].number;
    if (c->circuit >= 0) memcpy(draft.circuit, rig->circuits[c->circuit].name, sizeof draft.circuit);
    if (c->group >= 0) memcpy(draft.group, rig->groups[c->group].name, sizeof draft.group);
    put_section(w, IN_CHANNEL, number, &draft, &usual, c->cord_metric);
}

enum tc_status tc_rig_write(const struct tc_rig *rig, struct tc_sink to)
{
    struct writer w;
    struct tc_rig no_rig = { .mains_volts = 0 };
    struct tc_circuit usual = { .volts = rig->mains_volts };
    struct tc_bank no_bank = { .first = 0 };
    struct tc_overhead no_line = { .given = false };
    struct tc_network network = rig_file_network();
    enum tc_status status = rig_check(rig, NULL);
    if (status != TC_OK) return status;
    for (size_t i = 0; i < rig->channel_count; i++)
        if (!rig->circuit_count || rig->channels[i].circuit < 0) return TC_ERR_RIG; /* a rig file needs them */
    writer_begin(&w, to);
    put_section(&w, IN_RIG, "", rig, &no_rig, true);
    if (memcmp(&rig->network, &network, sizeof network)) put_section(&w, IN_NETWORK, "", &rig->network, &network, true);
    for (size_t i = 0; i < rig->circuit_count; i++)
        put_section(&w, IN_CIRCUIT, rig->circuits[i].name, &rig->circuits[i], &usual, true);
    for (size_t i = 0; i < rig->channel_count; i++) put_channel(&w, rig, &rig->channels[i]);
    for (size_t i = 0; i < rig->bank_count; i++)
        put_section(&w, IN_BANK, rig->banks[i].name, &rig->banks[i], &no_bank, true);
    if (rig->overhead.given) put_section(&w, IN_OVERHEAD, "", &rig->overhead, &no_line, rig->overhead.metric);
    return writer_end(&w);
}
