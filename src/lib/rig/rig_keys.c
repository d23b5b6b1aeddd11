#include "rig/rig_keys.h"

#include <string.h>

#include "rig/rig_slots.h"
#include "rig/rope.h"
#include "words/units.h"

#define COUNT(table) (sizeof(table) / sizeof *(table))

/* Those of a choice stand in the order of its enumeration. */
static const struct word kinds[] = { { "branch", TC_BRANCH }, { "flood", TC_FLOOD }, { 0 } };
static const struct word curves[] = {
    { "linear", TC_CURVE_LINEAR }, { "square", TC_CURVE_SQUARE }, { "lstar", TC_CURVE_LSTAR }, { 0 },
};
static const struct word lamps[] = { { "led", TC_LAMP_LED }, { "incandescent", TC_LAMP_INCANDESCENT }, { 0 } };
/* Strength that a knot leaves, the lower end of what rope handbooks give;
 * "unknown" is the worst of them (up to half is lost). */
static const struct word knots[] = {
    { "figure-8", 0.75 }, { "bowline", 0.70 }, { "clove-hitch", 0.60 }, { "unknown", KNOT_UNKNOWN }, { 0 },
};

/* Choices are written as int. */
_Static_assert(sizeof(enum tc_channel_kind) == sizeof(int) && sizeof(enum tc_curve) == sizeof(int)
               && sizeof(enum tc_lamp) == sizeof(int), "enumerations are as wide as int");

#define AT_RIG(f)     offsetof(struct tc_rig, f)
#define AT_CIRCUIT(f) offsetof(struct tc_circuit, f)
#define AT_CHANNEL(f) offsetof(struct channel_draft, f)
#define AT_BANK(f)    offsetof(struct tc_bank, f)
#define AT_LINE(f)    offsetof(struct tc_overhead, f)
#define AT_NETWORK(f) offsetof(struct tc_network, f)

static const struct key rig_keys[] = {
    { "name",        KEY_TEXT,   AT_RIG(name),        0, 0, 1, NULL, NULL },
    { "mains_volts", KEY_NUMBER, AT_RIG(mains_volts), 5, 600, 1, NULL, NULL },
    { "mains_hz",    KEY_NUMBER, AT_RIG(mains_hz),    40, 70, 1, NULL, NULL },
};

static const struct key circuit_keys[] = {
    { "breaker_amps", KEY_NUMBER, AT_CIRCUIT(breaker_amps), 0.5, 400, 1, NULL, "breaker_amps = 15" },
    { "volts",        KEY_NUMBER, AT_CIRCUIT(volts),        5, 600, 1, NULL, NULL },
};

static const struct key channel_keys[] = {
    { "name",           KEY_TEXT,   AT_CHANNEL(is.name),        0, 0, 1, NULL, NULL },
    { "kind",           KEY_CHOICE, AT_CHANNEL(is.kind),        0, 0, 1, kinds, "kind = branch, or kind = flood" },
    { "parent",         KEY_PARENT, AT_CHANNEL(parent),         1, TC_MAX_CHANNELS, 1, NULL, NULL },
    { "watts",          KEY_NUMBER, AT_CHANNEL(is.watts),       0.01, 20000, 1, NULL, "watts = 5, as the nameplate says" },
    { "lumens",         KEY_NUMBER, AT_CHANNEL(is.lumens),      0.1, 1e7, 1, NULL, NULL },
    { "circuit",        KEY_TEXT,   AT_CHANNEL(circuit),        0, 0, 1, NULL, "circuit = NAME, with a section [circuit NAME]" },
    { "curve",          KEY_CHOICE, AT_CHANNEL(is.curve),       0, 0, 1, curves, NULL },
    { "min_level",      KEY_NUMBER, AT_CHANNEL(is.min_level),   0, 100, 1, NULL, NULL },
    { "max_level",      KEY_NUMBER, AT_CHANNEL(is.max_level),   0, 100, 1, NULL, NULL },
    { "lamp",           KEY_CHOICE, AT_CHANNEL(is.lamp),        0, 0, 1, lamps, NULL },
    { "rise_ms",        KEY_NUMBER, AT_CHANNEL(is.rise_ms),     0, 10000, 1, NULL, NULL },
    { "fall_ms",        KEY_NUMBER, AT_CHANNEL(is.fall_ms),     0, 10000, 1, NULL, NULL },
    { "lead_ms",        KEY_NUMBER, AT_CHANNEL(is.lead_ms),     0, 10000, 1, NULL, NULL },
    { "group",          KEY_TEXT,   AT_CHANNEL(group),          0, 0, 1, NULL, NULL },
    { "max_amps",       KEY_NUMBER, AT_CHANNEL(is.max_amps),    0.01, 400, 1, NULL, NULL },
    { "cord_length_ft", KEY_NUMBER, AT_CHANNEL(is.cord_length), 0.1, 5000, 1, NULL, NULL },
    { "cord_length_m",  KEY_NUMBER, AT_CHANNEL(is.cord_length), 0.1, 1500, 1, NULL, NULL },
    { "cord_awg",       KEY_WHOLE,  AT_CHANNEL(is.cord_awg),    1, 40, 1, NULL, NULL },
    { "slot",           KEY_WHOLE,  AT_CHANNEL(is.slot),        1, RIG_SLOTS_MOST, 1, NULL, NULL },
    { "x",              KEY_NUMBER, AT_CHANNEL(is.x),           0, 100, 1, NULL, NULL },
    { "y",              KEY_NUMBER, AT_CHANNEL(is.y),           0, 100, 1, NULL, NULL },
    { "start_x",        KEY_NUMBER, AT_CHANNEL(is.start_x),     0, 100, 1, NULL, NULL },
    { "start_y",        KEY_NUMBER, AT_CHANNEL(is.start_y),     0, 100, 1, NULL, NULL },
    { "fork",           KEY_NUMBER, AT_CHANNEL(is.fork),        1, 100, 1, NULL, NULL },
};

static const struct key bank_keys[] = {
    { "first",    KEY_WHOLE,  AT_BANK(first),    1, TC_MAX_CHANNELS, 1, NULL, "first = 1" },
    { "last",     KEY_WHOLE,  AT_BANK(last),     1, TC_MAX_CHANNELS, 1, NULL, "last = 8" },
    { "max_amps", KEY_NUMBER, AT_BANK(max_amps), 0.01, 400, 1, NULL, "max_amps = 8" },
};

static const struct key overhead_keys[] = {
    { "span_ft",           KEY_NUMBER, AT_LINE(span_m),          0.1, 2000, M_PER_FT, NULL, "span_ft = 50, or span_m = 15" },
    { "span_m",            KEY_NUMBER, AT_LINE(span_m),          0.1, 600, 1, NULL, NULL },
    { "sag_ft",            KEY_NUMBER, AT_LINE(sag_m),           0.001, 1000, M_PER_FT, NULL, "sag_ft = 2.5, sag_in = 30 or sag_m = 0.75" },
    { "sag_in",            KEY_NUMBER, AT_LINE(sag_m),           0.01, 12000, M_PER_IN, NULL, NULL },
    { "sag_m",             KEY_NUMBER, AT_LINE(sag_m),           0.001, 300, 1, NULL, NULL },
    { "centre_lb",         KEY_NUMBER, AT_LINE(centre_n),        0, 10000, N_PER_LB, NULL, NULL },
    { "centre_kg",         KEY_NUMBER, AT_LINE(centre_n),        0, 5000, N_PER_KG, NULL, NULL },
    { "uniform_lb_per_ft", KEY_NUMBER, AT_LINE(uniform_n_per_m), 0, 100, N_PER_LB / M_PER_FT, NULL, NULL },
    { "uniform_kg_per_m",  KEY_NUMBER, AT_LINE(uniform_n_per_m), 0, 150, N_PER_KG, NULL, NULL },
    { "breaking_lb",       KEY_NUMBER, AT_LINE(breaking_n),      1, 1e6, N_PER_LB, NULL, NULL },
    { "breaking_kg",       KEY_NUMBER, AT_LINE(breaking_n),      1, 5e5, N_PER_KG, NULL, NULL },
    { "breaking_n",        KEY_NUMBER, AT_LINE(breaking_n),      1, 5e6, 1, NULL, NULL },
    { "knot",              KEY_SHARE,  AT_LINE(knot),            0.1, 1, 1, knots, NULL },
    { "design_factor",     KEY_NUMBER, AT_LINE(design_factor),   1, 50, 1, NULL, NULL },
};

static const struct key network_keys[] = {
    { "universe",   KEY_WHOLE, AT_NETWORK(universe),   1, UNIVERSE_MOST, 1, NULL, NULL },
    { "first_slot", KEY_WHOLE, AT_NETWORK(first_slot), 1, UNIVERSE_SLOTS, 1, NULL, NULL },
    { "priority",   KEY_WHOLE, AT_NETWORK(priority),   0, PRIORITY_MOST, 1, NULL, NULL },
    { "to",         KEY_TEXT,  AT_NETWORK(to),         0, 0, 1, NULL, NULL },
};

_Static_assert(COUNT(channel_keys) <= KEYS_MOST && COUNT(overhead_keys) <= KEYS_MOST, "room for all keys");

static const struct section_row section_rows[SECTION_TYPES] = {
    [IN_NONE]     = { NULL, NULL, false, NULL, 0, "" },
    [IN_RIG]      = { "rig",      "[rig]",          false, rig_keys,      COUNT(rig_keys), "" },
    [IN_CIRCUIT]  = { "circuit",  "[circuit NAME]", true,  circuit_keys,  COUNT(circuit_keys), "" },
    [IN_CHANNEL]  = { "channel",  "[channel N]",    true,  channel_keys,  COUNT(channel_keys), "" },
    [IN_DEFAULTS] = { "defaults", "[defaults]",     false, channel_keys,  COUNT(channel_keys), " name parent slot x y start_x start_y fork " },
    [IN_BANK]     = { "bank",     "[bank NAME]",    true,  bank_keys,     COUNT(bank_keys), "" },
    [IN_OVERHEAD] = { "overhead", "[overhead]",     false, overhead_keys, COUNT(overhead_keys), "" },
    [IN_NETWORK]  = { "network",  "[network]",      false, network_keys,  COUNT(network_keys), "" },
};

const struct section_row *section_row(enum section_type type)
{
    return &section_rows[type];
}

enum section_type section_find(const char *word)
{
    for (int i = IN_NONE + 1; i < SECTION_TYPES; i++)
        if (!strcmp(word, section_rows[i].word)) return (enum section_type)i;
    return IN_NONE;
}

const struct key *key_find(const struct section_row *row, const char *name)
{
    for (size_t k = 0; k < row->key_count; k++)
        if (!strcmp(row->keys[k].name, name)) return &row->keys[k];
    return NULL;
}

const char *rig_kind_word(enum tc_channel_kind kind)
{
    return kinds[kind].name;
}

const char *rig_curve_word(enum tc_curve curve)
{
    return curves[curve].name;
}

const char *rig_lamp_word(enum tc_lamp lamp)
{
    return lamps[lamp].name;
}

size_t key_size(enum key_type type)
{
    switch (type) {
    case KEY_TEXT:   return TC_NAME_SIZE;
    case KEY_NUMBER:
    case KEY_SHARE:  return sizeof(double);
    case KEY_WHOLE:
    case KEY_PARENT:
    case KEY_CHOICE: break;
    }
    return sizeof(int);
}
