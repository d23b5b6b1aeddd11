/* A rig as a rig file that reads back as the same rig: its keys are those of
 * the tables that it is read by, and what is as it would be anyway is left out. */
#include <string.h>

#include "rig/rig_check.h"
#include "rig/rig_keys.h"
#include "rig/rig_text.h"
#include "words/numbers.h"
#include "words/sink.h"
#include "words/status.h"
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

/* A rig file on its way, and what can't be put into it. */
struct putting {
    struct writer to;
    struct tc_problem *why;
    bool refused;
};

static void refuse_name(struct putting *p, const char *what, const char *name, const char *but)
{
    char plain[TC_NAME_SIZE];
    if (p->to.status != TC_OK) return;
    p->refused = true;
    p->to.status = problem_set(p->why, TC_ERR_USAGE,
                               "the %s '%s' can't stand in a rig file: there it is one line of UTF-8 "
                               "with no space at its ends and no %s", what, text_plain(plain, sizeof plain, name), but);
}

static void put_text(struct putting *p, const char *key, const char *value)
{
    if (!name_fits(value, false)) refuse_name(p, key, value, "';' after a space");
    writer_text(&p->to, key);
    writer_text(&p->to, " = ");
    writer_text(&p->to, value);
    writer_text(&p->to, "\n");
}

static void put_heading(struct putting *p, enum section_type type, const char *name)
{
    const char *word = section_row(type)->word;
    if (!name_fits(name, true)) refuse_name(p, word, name, "']'");
    writer_text(&p->to, type == IN_RIG ? "[" : "\n[");
    writer_text(&p->to, word);
    writer_text(&p->to, *name ? " " : "");
    writer_text(&p->to, name);
    writer_text(&p->to, "]\n");
}

/* The fewest digits that read back as the same number. */
static void put_number(struct putting *p, const struct key *key, double value)
{
    static const int digits[] = { 6, 10, 15, 16, 17 };
    char text[SHOWN_ROOM];
    for (size_t i = 0; i < sizeof digits / sizeof *digits; i++) {
        double again;
        number_show(text, sizeof text, value / key->factor, digits[i]);
        if (number_read(text, &again) && again * key->factor >= value && again * key->factor <= value) break;
    }
    put_text(p, key->name, text);
}

static void put_value(struct putting *p, const struct key *key, const char *at)
{
    if (key->type == KEY_TEXT) {
        put_text(p, key->name, at);
    } else if (key->type == KEY_NUMBER || key->type == KEY_SHARE) {
        double value;
        memcpy(&value, at, sizeof value);
        put_number(p, key, value);
    } else {
        int value;
        memcpy(&value, at, sizeof value);
        if (key->type == KEY_CHOICE) put_text(p, key->name, key->words[value].name);
        else put_number(p, key, value);
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
static void put_section(struct putting *p, enum section_type type, const char *name, const void *is,
                        const void *usual, bool metric)
{
    const struct section_row *row = section_row(type);
    put_heading(p, type, name);
    for (size_t k = 0; k < row->key_count; k++) {
        const struct key *key = &row->keys[k];
        const char *value = (const char *)is + key->offset, *as_usual = (const char *)usual + key->offset;
        bool same = key->type == KEY_TEXT ? !strcmp(value, as_usual) : !memcmp(value, as_usual, key_size(key->type));
        if ((!same || key->example) && !not_given(key, value) && !wrong_unit(row, k, metric)) put_value(p, key, value);
    }
}

/* Places that are not given differ from any that are: 0 is one. */
static void leave_out_places(struct tc_channel *c)
{
    if (!c->placed) c->x = c->y = -1;
    if (!c->start_placed) c->start_x = c->start_y = -1;
}

static void put_channel(struct putting *p, const struct tc_rig *rig, const struct tc_channel *c)
{
    struct channel_draft draft = { .is = *c }, usual = { .is = rig_file_channel() };
    char number[SHOWN_ROOM];
    leave_out_places(&draft.is);
    leave_out_places(&usual.is);
    number_show(number, sizeof number, c->number, 6);
    if (c->parent >= 0) draft.parent = rig->channels[c->parent].number;
    if (c->circuit >= 0) memcpy(draft.circuit, rig->circuits[c->circuit].name, sizeof draft.circuit);
    if (c->group >= 0) memcpy(draft.group, rig->groups[c->group].name, sizeof draft.group);
    put_section(p, IN_CHANNEL, number, &draft, &usual, c->cord_metric);
}

enum tc_status tc_rig_write(const struct tc_rig *rig, struct tc_sink to, struct tc_problem *why)
{
    struct putting p = { .why = why };
    struct tc_rig no_rig = { .mains_volts = 0 };
    struct tc_circuit usual = { .volts = rig->mains_volts };
    struct tc_bank no_bank = { .first = 0 };
    struct tc_overhead no_line = { .given = false };
    struct tc_network network = rig_file_network();
    enum tc_status status = rig_check(rig, why);
    if (status != TC_OK) return status;
    for (size_t i = 0; i < rig->channel_count; i++)
        if (!rig->circuit_count || rig->channels[i].circuit < 0)
            return problem_set(why, TC_ERR_RIG, "the rig's channels[%zu]: it is on no circuit, which a rig file needs",
                               i);
    writer_begin(&p.to, to);
    put_section(&p, IN_RIG, "", rig, &no_rig, true);
    if (memcmp(&rig->network, &network, sizeof network)) put_section(&p, IN_NETWORK, "", &rig->network, &network, true);
    for (size_t i = 0; i < rig->circuit_count; i++)
        put_section(&p, IN_CIRCUIT, rig->circuits[i].name, &rig->circuits[i], &usual, true);
    for (size_t i = 0; i < rig->channel_count; i++) put_channel(&p, rig, &rig->channels[i]);
    for (size_t i = 0; i < rig->bank_count; i++)
        put_section(&p, IN_BANK, rig->banks[i].name, &rig->banks[i], &no_bank, true);
    if (rig->overhead.given) put_section(&p, IN_OVERHEAD, "", &rig->overhead, &no_line, rig->overhead.metric);
    status = writer_end(&p.to);
    return status == TC_OK || p.refused ? status : problem_say(why, status);
}
