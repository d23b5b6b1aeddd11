/* The rig: which channel lights what, built in or put together from the
 * sections of a rig file. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "rig/rig_slots.h"
#include "rig/rig_text.h"
#include "words/memory.h"
#include "words/numbers.h"
#include "words/status.h"
#include "words/text.h"

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

enum tc_status tc_rig_builtin(struct tc_rig *out)
{
    *out = (struct tc_rig){ .name = "built-in rig", .mains_volts = 120, .mains_hz = 60, .network = rig_file_network() };
    out->channels = memory_new(COUNT(built_in), sizeof *out->channels);
    out->circuits = memory_new(1, sizeof *out->circuits);
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
        *c = rig_file_channel();
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
    memory_free(rig->channels);
    memory_free(rig->circuits);
    memory_free(rig->groups);
    memory_free(rig->banks);
    *rig = (struct tc_rig){ 0 };
}

/* ---- Putting the rig together ---- */

static size_t sections_of(const struct rig_file *f, enum section_type type)
{
    size_t n = 0;
    for (size_t i = 0; i < f->section_count; i++) n += f->sections[i].type == type;
    return n;
}

static void place_rig(struct tc_rig *rig, const struct rig_file *f)
{
    for (size_t i = 0; i < f->section_count; i++) {
        const struct section *s = &f->sections[i];
        if (s->type != IN_RIG) continue;
        if (section_key_line(s, "name")) name_set(rig->name, s->is.rig.name);
        if (section_key_line(s, "mains_volts")) rig->mains_volts = s->is.rig.mains_volts;
        if (section_key_line(s, "mains_hz")) rig->mains_hz = s->is.rig.mains_hz;
    }
}

static void place_circuits(struct tc_rig *rig, const struct rig_file *f)
{
    for (size_t i = 0; i < f->section_count; i++) {
        const struct section *s = &f->sections[i];
        if (s->type != IN_CIRCUIT) continue;
        struct tc_circuit *c = &rig->circuits[rig->circuit_count++];
        *c = s->is.circuit;
        name_set(c->name, s->name);
        if (!section_key_line(s, "volts")) c->volts = rig->mains_volts;
    }
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

/* What a channel says, with its names looked up; its parent comes later. */
static bool place_channel(struct tc_rig *rig, struct rig_file *f, const struct section *s)
{
    const struct channel_draft *draft = &s->is.channel;
    struct tc_channel *c = &rig->channels[rig->channel_count++];
    *c = draft->is;
    if (!*c->name) snprintf(c->name, sizeof c->name, "channel %d", c->number);
    c->cord_metric = section_key_line(s, "cord_length_m") != 0;
    if (c->min_level >= c->max_level) {
        int low = section_line_near(s, "min_level"), high = section_line_near(s, "max_level");
        return rig_file_wrong(f, low > high ? low : high, "channel %d: min_level %s is not below max_level %s",
                              c->number, SHOWN(c->min_level, 6), SHOWN(c->max_level, 6));
    }
    c->circuit = circuit_find(rig, draft->circuit);
    if (c->circuit < 0) {
        struct telling t = section_tell(s, draft->circuit);
        return rig_file_wrong(f, section_line_near(s, "circuit"), "%s: there is no section [circuit %s]",
                              t.where, t.value);
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

static bool place_parent(const struct tc_rig *rig, struct rig_file *f, const struct section *s,
                         struct tc_channel *c)
{
    int parent = s->is.channel.parent, line = section_line_near(s, "parent");
    if (!parent) return true;
    if (c->kind == TC_FLOOD)
        return rig_file_wrong(f, line, "channel %d: a flood grows from no branch: leave parent empty",
                              c->number);
    if (parent == c->number)
        return rig_file_wrong(f, line, "channel %d: parent %d is the channel itself: give the branch that it "
                                       "grows from, or leave it empty for a root", c->number, parent);
    c->parent = channel_find(rig, parent);
    if (c->parent < 0)
        return rig_file_wrong(f, line, "channel %d: parent %d is not there: there is no section [channel %d]",
                              c->number, parent, parent);
    if (rig->channels[c->parent].kind != TC_BRANCH)
        return rig_file_wrong(f, line, "channel %d: parent %d is a flood: only branches have forks",
                              c->number, parent);
    return true;
}

/* Both of a place's two keys, or neither. */
static bool check_place(struct rig_file *f, const struct section *s, const char *x, const char *y)
{
    int there = section_key_line(s, x) + section_key_line(s, y);
    if (!section_key_line(s, x) == !section_key_line(s, y)) return true;
    const char *given = section_key_line(s, x) ? x : y, *missing = section_key_line(s, x) ? y : x;
    return rig_file_wrong(f, there, "%s: %s is there without %s: write both, or neither",
                          section_tell(s, "").where, given, missing);
}

/* Where it hangs: each end has its own keys, and a branch with a parent begins on it. */
static bool place_hanging(struct rig_file *f, const struct section *s, struct tc_channel *c)
{
    int start = section_key_line(s, "start_x"), fork = section_key_line(s, "fork");
    if (!check_place(f, s, "x", "y") || !check_place(f, s, "start_x", "start_y")) return false;
    c->placed = section_key_line(s, "x") != 0;
    c->start_placed = start != 0;
    if (start && c->kind == TC_FLOOD)
        return rig_file_wrong(f, start, "channel %d: start_x is for branches: x and y say where a flood stands",
                              c->number);
    if (start && c->parent >= 0)
        return rig_file_wrong(f, start, "channel %d: start_x is for a root: this branch begins on its parent, "
                                        "where fork says", c->number);
    if (fork && c->parent < 0)
        return rig_file_wrong(f, fork,
                              "channel %d: fork is for a branch with a parent: it is how far along that it begins",
                              c->number);
    return true;
}

/* No branch is its own ancestor. `by` are the channels' sections in rig order. */
static bool check_loops(const struct tc_rig *rig, struct rig_file *f, struct section *const *by)
{
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
        return rig_file_wrong(f, section_line_near(by[i], "parent"),
                              "channel %d: its parents form a loop (%s%s): leave one parent empty, for a root",
                              rig->channels[i].number, chain, at == (int)i ? "" : " - ...");
    }
    return true;
}

static int by_number(const void *a, const void *b)
{
    const struct section *const *x = a, *const *y = b;
    int left = (*x)->is.channel.is.number, right = (*y)->is.channel.is.number;
    return (left > right) - (left < right);
}

/* `by` has room for the sections of all channels. */
static bool place_channels(struct tc_rig *rig, struct rig_file *f, struct section **by)
{
    size_t n = 0;
    for (size_t i = 0; i < f->section_count; i++)
        if (f->sections[i].type == IN_CHANNEL) by[n++] = &f->sections[i];
    qsort(by, n, sizeof *by, by_number);
    bool fine = true;
    for (size_t i = 0; i < n; i++) fine = place_channel(rig, f, by[i]) && fine;
    for (size_t i = 0; i < n; i++)
        fine = place_parent(rig, f, by[i], &rig->channels[i]) && place_hanging(f, by[i], &rig->channels[i]) && fine;
    return fine && check_loops(rig, f, by);
}

static bool place_banks(struct tc_rig *rig, struct rig_file *f)
{
    for (size_t i = 0; i < f->section_count; i++) {
        const struct section *s = &f->sections[i];
        if (s->type != IN_BANK) continue;
        struct tc_bank *b = &rig->banks[rig->bank_count++];
        *b = s->is.bank;
        name_set(b->name, s->name);
        if (b->first > b->last)
            return rig_file_wrong(f, section_line_near(s, "last"), "%s: last %d is before first %d",
                                  section_tell(s, "").where, b->last, b->first);
    }
    return true;
}

static bool place_overhead(struct tc_rig *rig, struct rig_file *f)
{
    for (size_t i = 0; i < f->section_count; i++) {
        const struct section *s = &f->sections[i];
        if (s->type != IN_OVERHEAD) continue;
        struct tc_overhead *o = &rig->overhead;
        *o = s->is.overhead;
        o->given = true;
        o->metric = section_key_line(s, "span_m") != 0;
        if (o->sag_m >= o->span_m / 2) {
            /* one of the three is given */
            int line = section_key_line(s, "sag_ft") + section_key_line(s, "sag_in") + section_key_line(s, "sag_m");
            return rig_file_wrong(f, line, "overhead: the sag is half the span or more: it is how far the middle "
                                           "hangs below the ends");
        }
        if (!(o->centre_n > 0) && !(o->uniform_n_per_m > 0))
            return rig_file_wrong(f, s->line, "overhead: nothing hangs on it: write centre_lb, centre_kg, "
                                              "uniform_lb_per_ft or uniform_kg_per_m");
    }
    return true;
}

static bool place_network(struct tc_rig *rig, struct rig_file *f)
{
    int line = 0;
    for (size_t i = 0; i < f->section_count; i++) {
        const struct section *s = &f->sections[i];
        if (s->type != IN_NETWORK) continue;
        rig->network = s->is.network;
        line = section_line_near(s, "universe");
    }
    int last = rig->network.universe + (int)rig_universes(rig) - 1;
    if (last > UNIVERSE_MOST)
        return rig_file_wrong(f, line, "network: the slots reach into universe %d: the last that there is is %d",
                              last, UNIVERSE_MOST);
    size_t one, other;
    if (!rig_slots_clash(rig, &one, &other)) return true;
    size_t slot = rig_slot(rig, other) + 1;
    for (size_t i = 0; i < f->section_count; i++) {
        const struct section *s = &f->sections[i];
        bool theirs = s->type == IN_CHANNEL && (s->is.channel.is.number == rig->channels[one].number
                                                || s->is.channel.is.number == rig->channels[other].number);
        if (theirs && section_key_line(s, "slot")) line = section_key_line(s, "slot");
    }
    return rig_file_wrong(f, line, "channels %d and %d have the same slot, %zu: give one of them another",
                          rig->channels[one].number, rig->channels[other].number, slot);
}


static void build_rig(struct tc_rig *rig, struct rig_file *f)
{
    size_t channels = sections_of(f, IN_CHANNEL);
    if (!channels) {
        rig_file_wrong(f, 0, "it has no channels: write a section [channel N] for each");
        return;
    }

    struct section **by = memory_new(channels, sizeof *by);
    rig->channels = memory_new(channels, sizeof *rig->channels);
    rig->groups = memory_new(channels, sizeof *rig->groups);
    rig->circuits = memory_new(sections_of(f, IN_CIRCUIT) + 1, sizeof *rig->circuits);
    rig->banks = memory_new(sections_of(f, IN_BANK) + 1, sizeof *rig->banks);
    if (by && rig->channels && rig->groups && rig->circuits && rig->banks) {
        place_rig(rig, f);
        place_circuits(rig, f);
        place_channels(rig, f, by); /* all that is wrong is told */
        place_banks(rig, f);
        place_overhead(rig, f);
        place_network(rig, f);
    } else {
        rig_file_memory(f);
    }
    memory_free(by);
}

/* ---- The file ---- */

enum tc_status rig_read(const char *text, size_t size, const char *shown, struct tc_rig *out, struct rig_problems *all,
                        struct tc_problem *why)
{
    *out = (struct tc_rig){ .mains_volts = 120, .mains_hz = 60, .network = rig_file_network() };
    if (all) all->count = 0;
    struct rig_file *f = memory_new(1, sizeof *f);
    if (!f) return problem_say(why, TC_ERR_MEMORY);
    text_plain(f->shown, sizeof f->shown, shown);

    const char *slash = strrchr(f->shown, '/');
    name_set(out->name, slash ? slash + 1 : f->shown); /* unless [rig] has a name */
    if (rig_file_read(f, text, size)) build_rig(out, f);
    enum tc_status status = f->status;
    if (status == TC_ERR_MEMORY) problem_say(why, status);
    else if (status != TC_OK && why) *why = f->found.at[0].is;
    if (status == TC_ERR_RIG && all) *all = f->found;
    memory_free(f->sections);
    memory_free(f);
    if (status != TC_OK) tc_rig_clear(out);
    return status;
}

enum tc_status tc_rig_read(const char *text, size_t size, const char *shown, struct tc_rig *out,
                           struct tc_problem *why)
{
    return rig_read(text, size, shown, out, NULL, why);
}
