#include "rig/rig_check.h"

#include <math.h>
#include <string.h>

#include "rig/rig_slots.h"
#include "words/status.h"

/* Far above any lamp, and small enough to reckon with. */
#define QUANTITY_MOST 1e9

static bool is_quantity(double x)
{
    return x >= 0 && x <= QUANTITY_MOST;
}

static bool ends(const char *text)
{
    return memchr(text, 0, TC_NAME_SIZE) != NULL;
}

/* The index of one of `count`, or -1 where there may be none. */
static bool is_index(int i, size_t count, bool or_none)
{
    return i < 0 ? or_none && i == -1 : (size_t)i < count;
}

static const char *wrong_lamp(const struct tc_channel *c)
{
    if (!ends(c->name)) return "its name has no end";
    if (c->kind != TC_BRANCH && c->kind != TC_FLOOD) return "its kind is neither TC_BRANCH nor TC_FLOOD";
    if (c->curve != TC_CURVE_LINEAR && c->curve != TC_CURVE_SQUARE && c->curve != TC_CURVE_LSTAR)
        return "its curve is none of enum tc_curve";
    if (c->lamp != TC_LAMP_LED && c->lamp != TC_LAMP_INCANDESCENT) return "its lamp is none of enum tc_lamp";
    if (!(c->min_level >= 0 && c->min_level < c->max_level && c->max_level <= 100))
        return "its levels must be 0 <= min_level < max_level <= 100";
    if (!is_quantity(c->watts) || !is_quantity(c->lumens)) return "its watts and lumens must be 0 or more";
    if (!is_quantity(c->rise_ms) || !is_quantity(c->fall_ms) || !is_quantity(fabs(c->lead_ms)))
        return "its times must be numbers of milliseconds";
    if (!is_quantity(c->max_amps) || !is_quantity(c->cord_length) || c->cord_awg < 0)
        return "its max_amps and cord must be 0 or more";
    if (!isfinite(c->x) || !isfinite(c->y) || !isfinite(c->start_x) || !isfinite(c->start_y) || !isfinite(c->fork))
        return "where it hangs must be numbers";
    if (c->slot < 0 || c->slot > RIG_SLOTS_MOST) return "its slot is out of its bounds";
    return NULL;
}

static const char *wrong_place(const struct tc_rig *rig, size_t channel)
{
    const struct tc_channel *c = &rig->channels[channel];
    if (c->number < 1 || c->number > TC_MAX_CHANNELS) return "its number is not from 1 to 512";
    if (channel && rig->channels[channel - 1].number >= c->number)
        return "channels must be in the order of their numbers";
    if (!is_index(c->group, rig->group_count, true)) return "its group is not there; -1 is none";
    if (!is_index(c->circuit, rig->circuit_count, true) && rig->circuit_count) return "its circuit is not there";
    if (!is_index(c->parent, rig->channel_count, true)) return "its parent is not there; -1 is none";
    if (c->parent < 0) return NULL;
    if (c->kind != TC_BRANCH || rig->channels[c->parent].kind != TC_BRANCH) return "only a branch grows from a branch";
    size_t steps = 0;
    for (int at = c->parent; at >= 0 && steps <= rig->channel_count; steps++) {
        if (!is_index(rig->channels[at].parent, rig->channel_count, true)) return NULL; /* told at that one */
        at = rig->channels[at].parent;
    }
    return steps > rig->channel_count ? "its parents form a loop" : NULL;
}

static const char *wrong_rest(const struct tc_rig *rig)
{
    const struct tc_network *n = &rig->network;
    const struct tc_overhead *o = &rig->overhead;
    if (!ends(rig->name) || !ends(n->to)) return "a name has no end";
    if (!is_quantity(rig->mains_volts) || !is_quantity(rig->mains_hz)) return "the mains must be 0 or more";
    if (n->universe < 0 || n->universe > UNIVERSE_MOST || n->first_slot < 0 || n->first_slot > UNIVERSE_SLOTS
        || n->priority < 0 || n->priority > PRIORITY_MOST)
        return "the network's numbers are out of their bounds";
    for (size_t i = 0; i < rig->circuit_count; i++) {
        const struct tc_circuit *c = &rig->circuits[i];
        if (!ends(c->name)) return "a circuit's name has no end";
        if (!is_quantity(c->breaker_amps) || !is_quantity(c->volts))
            return "a circuit's amperes and volts must be 0 or more";
    }
    for (size_t i = 0; i < rig->group_count; i++)
        if (!ends(rig->groups[i].name)) return "a group's name has no end";
    for (size_t i = 0; i < rig->bank_count; i++)
        if (!ends(rig->banks[i].name) || !is_quantity(rig->banks[i].max_amps))
            return "a bank's name or amperes are none";
    if (!is_quantity(o->span_m) || !is_quantity(o->sag_m) || !is_quantity(o->centre_n)
        || !is_quantity(o->uniform_n_per_m)
        || !is_quantity(o->breaking_n) || !is_quantity(o->knot) || !is_quantity(o->design_factor))
        return "what is overhead must be 0 or more";
    return NULL;
}

enum tc_status rig_check(const struct tc_rig *rig, struct tc_problem *why)
{
    if (rig->channel_count > TC_MAX_CHANNELS)
        return problem_set(why, TC_ERR_RIG, "the rig has %zu channels: up to %d are possible", rig->channel_count,
                           TC_MAX_CHANNELS);
    for (size_t i = 0; i < rig->channel_count; i++) {
        const char *wrong = wrong_lamp(&rig->channels[i]);
        if (!wrong) wrong = wrong_place(rig, i);
        if (wrong) return problem_set(why, TC_ERR_RIG, "the rig's channels[%zu]: %s", i, wrong);
    }
    const char *wrong = wrong_rest(rig);
    return wrong ? problem_set(why, TC_ERR_RIG, "the rig: %s", wrong) : TC_OK;
}
