#include "app/sheet/rig_columns.h"

#include <stdarg.h>
#include <stdio.h>

#include "app/sheet/rig_sums.h"
#include "rig/electric.h"
#include "rig/load.h"
#include "rig/rig_keys.h"
#include "words/units.h"

#define COUNT(table) (sizeof(table) / sizeof *(table))

/* ---- Cells ---- */

/* Fills in the cell of row i of rig r. */
#define FILL(name) static void name(char *to, const struct tc_rig *r, size_t i)

static const struct tc_channel *channel(const struct tc_rig *r, size_t i)
{
    return &r->channels[i];
}

static const struct tc_circuit *circuit(const struct tc_rig *r, size_t i)
{
    return &r->circuits[i];
}

static const struct tc_bank *bank(const struct tc_rig *r, size_t i)
{
    return &r->banks[i];
}

static void put(char *to, const char *format, ...) __attribute__((format(printf, 2, 3)));
static void put(char *to, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    vsnprintf(to, CELL_SIZE, format, args);
    va_end(args);
}

/* A number with up to 2 decimals and no zeros after them; empty for 0. */
static void put_given(char *to, double value)
{
    *to = 0;
    if (value > 0) put(to, "%.10g", value);
}

/* With 2 decimals; empty for 0. */
static void put_hundredths(char *to, double value)
{
    *to = 0;
    if (value > 0) put(to, "%.2f", value);
}

/* Amperes that are left below a limit, which they may be over. */
static void put_left(char *to, double amps, bool over)
{
    put(to, over ? "OVER by %.2f A" : "%.2f A", over ? -amps : amps);
}

/* The branch that a channel grows from, or NULL. */
static const struct tc_channel *parent_of(const struct tc_rig *r, size_t i)
{
    int parent = r->channels[i].parent;
    return parent >= 0 ? &r->channels[parent] : NULL;
}

FILL(ch_number) { put(to, "%d", channel(r, i)->number); }
FILL(ch_name) { put(to, "%s", channel(r, i)->name); }
FILL(ch_kind) { put(to, "%s", rig_kind_word(channel(r, i)->kind)); }
FILL(ch_lamp) { put(to, "%s", rig_lamp_word(channel(r, i)->lamp)); }
FILL(ch_watts) { put(to, "%.10g", channel(r, i)->watts); }
FILL(ch_lumens) { put_given(to, channel(r, i)->lumens); }
FILL(ch_amps) { put(to, "%.2f", channel_amps(r, channel(r, i))); }
FILL(ch_circuit) { put(to, "%s", circuit_of(r, channel(r, i))->name); }
FILL(ch_volts) { put(to, "%.10g", circuit_of(r, channel(r, i))->volts); }
FILL(ch_breaker) { put(to, "%.10g", circuit_of(r, channel(r, i))->breaker_amps); }
FILL(ch_curve) { put(to, "%s", rig_curve_word(channel(r, i)->curve)); }
FILL(ch_min) { put(to, "%.10g", channel(r, i)->min_level); }
FILL(ch_max) { put(to, "%.10g", channel(r, i)->max_level); }
FILL(ch_rise) { put_given(to, channel(r, i)->rise_ms); }
FILL(ch_fall) { put_given(to, channel(r, i)->fall_ms); }
FILL(ch_lead) { put_given(to, channel(r, i)->lead_ms); }
FILL(ch_limit) { put_given(to, channel(r, i)->max_amps); }
FILL(ch_awg) { put_given(to, channel(r, i)->cord_awg); }

FILL(ch_parent) { put_given(to, parent_of(r, i) ? parent_of(r, i)->number : 0); }
FILL(ch_parent_name) { put(to, "%s", parent_of(r, i) ? parent_of(r, i)->name : ""); }

FILL(ch_forks)
{
    const struct tc_channel *parent = parent_of(r, i);
    if (parent) put(to, "%d %.*s", parent->number, CELL_SIZE - 12, parent->name);
    else put(to, "%s", channel(r, i)->kind == TC_BRANCH ? "(root)" : "-");
}

FILL(ch_levels) { put(to, "%g..%g", channel(r, i)->min_level, channel(r, i)->max_level); }

FILL(ch_group)
{
    int group = channel(r, i)->group;
    put(to, "%s", group >= 0 ? r->groups[group].name : "");
}

FILL(ch_cord)
{
    const struct tc_channel *c = channel(r, i);
    *to = 0;
    if (c->cord_length > 0) put(to, "%.10g %s", c->cord_length, c->cord_metric ? "m" : "ft");
}

FILL(ch_cord_rated) { put_given(to, cord_rated_amps(channel(r, i)->cord_awg)); }
FILL(ch_cord_m) { put_hundredths(to, cord_feet(channel(r, i)) * M_PER_FT); }
FILL(ch_drop) { put_hundredths(to, cord_drop(r, channel(r, i))); }
FILL(ch_drop_percent) { put_hundredths(to, cord_drop_percent(r, channel(r, i))); }

/* The run at which this cord and load reach the usual 3 %. */
FILL(ch_cord_usual)
{
    const struct tc_channel *c = channel(r, i);
    double feet = cord_length_ft(c->cord_awg, channel_amps(r, c), circuit_of(r, c)->volts, DROP_BRANCH_PERCENT);
    *to = 0;
    double run = c->cord_metric ? feet * M_PER_FT : feet;
    if (feet > 0) put(to, "%s%.0f %s", run > 1000 ? "over " : "", run > 1000 ? 1000 : run, c->cord_metric ? "m" : "ft");
}

/* For the text sheet: the percent, with a word where it is much. */
FILL(ch_drop_words)
{
    const struct tc_channel *c = channel(r, i);
    double percent = cord_drop_percent(r, c);
    if (!(c->cord_length > 0)) put(to, "length not given");
    else if (!c->cord_awg) put(to, "gauge not given");
    else if (!(copper_ohms_per_kft(c->cord_awg) > 0)) put(to, "no figures for this gauge");
    else put(to, "%.2f %%%s", percent, sum_over(percent, DROP_TOTAL_PERCENT) ? "  too much"
             : sum_over(percent, DROP_BRANCH_PERCENT) ? "  above the usual 3 %" : "");
}

FILL(ci_name) { put(to, "%s", circuit(r, i)->name); }
FILL(ci_breaker) { put(to, "%g A", circuit(r, i)->breaker_amps); }
FILL(ci_volts) { put(to, "%g V", circuit(r, i)->volts); }
FILL(ci_channels) { put(to, "%zu", circuit_sum(r, i).channels); }
FILL(ci_watts) { put(to, "%.1f W", circuit_sum(r, i).watts); }
FILL(ci_amps) { put(to, "%.2f A", circuit_sum(r, i).amps); }

FILL(ci_share) { put(to, "%.1f %%", 100 * circuit_sum(r, i).amps / circuit(r, i)->breaker_amps); }

FILL(ci_most)
{
    double amps = CONTINUOUS_SHARE * circuit(r, i)->breaker_amps;
    put(to, "%.2f A = %.0f W", amps, amps * circuit(r, i)->volts);
}

FILL(ci_left)
{
    double left = CONTINUOUS_SHARE * circuit(r, i)->breaker_amps - circuit_sum(r, i).amps;
    put_left(to, left, circuit_over(circuit(r, i), circuit_sum(r, i).watts));
}

FILL(ba_name) { put(to, "%s", bank(r, i)->name); }
FILL(ba_channels) { put(to, "%d-%d (%zu)", bank(r, i)->first, bank(r, i)->last, bank_sum(r, bank(r, i)).channels); }
FILL(ba_watts) { put(to, "%.1f W", bank_sum(r, bank(r, i)).watts); }
FILL(ba_amps) { put(to, "%.2f A", bank_sum(r, bank(r, i)).amps); }
FILL(ba_limit) { put(to, "%g A", bank(r, i)->max_amps); }

FILL(ba_left)
{
    double left = bank(r, i)->max_amps - bank_sum(r, bank(r, i)).amps;
    put_left(to, left, left < -SUM_SLACK);
}

FILL(ch_output_amps) { put(to, "%.2f A", channel_amps(r, channel(r, i))); }
FILL(ch_output_limit) { put(to, "%g A", channel(r, i)->max_amps); }

FILL(ch_output_left)
{
    double left = channel(r, i)->max_amps - channel_amps(r, channel(r, i));
    put_left(to, left, left < -SUM_SLACK);
}

/* ---- Columns ---- */

static const struct column hookup[] = {
    { "ch",         true,  ch_number },
    { "name",       false, ch_name },
    { "kind",       false, ch_kind },
    { "forks from", false, ch_forks },
    { "lamp",       false, ch_lamp },
    { "watts",      true,  ch_watts },
    { "amps",       true,  ch_amps },
    { "circuit",    false, ch_circuit },
    { "levels",     true,  ch_levels },
    { "curve",      false, ch_curve },
    { "group",      false, ch_group },
};

static const struct column circuits[] = {
    { "circuit",  false, ci_name },
    { "breaker",  true,  ci_breaker },
    { "volts",    true,  ci_volts },
    { "channels", true,  ci_channels },
    { "all on",   true,  ci_watts },
    { "amps",     true,  ci_amps },
    { "of breaker", true, ci_share },
    { "80 % line", true, ci_most },
    { "left",     true,  ci_left },
};

static const struct column outputs[] = {
    { "ch",    true,  ch_number },
    { "name",  false, ch_name },
    { "amps",  true,  ch_output_amps },
    { "limit", true,  ch_output_limit },
    { "left",  true,  ch_output_left },
};

static const struct column banks[] = {
    { "bank",     false, ba_name },
    { "channels", false, ba_channels },
    { "all on",   true,  ba_watts },
    { "amps",     true,  ba_amps },
    { "limit",    true,  ba_limit },
    { "left",     true,  ba_left },
};

static const struct column cords[] = {
    { "ch",       true,  ch_number },
    { "name",     false, ch_name },
    { "one way",  true,  ch_cord },
    { "AWG",      true,  ch_awg },
    { "amps",     true,  ch_amps },
    { "cord is rated", true, ch_cord_rated },
    { "volts lost", true, ch_drop },
    { "3 % at",  true,  ch_cord_usual },
    { "of volts", false, ch_drop_words },
};

static const struct column csv[] = {
    { "channel",       true,  ch_number },
    { "name",          false, ch_name },
    { "kind",          false, ch_kind },
    { "parent",        true,  ch_parent },
    { "parent_name",   false, ch_parent_name },
    { "lamp",          false, ch_lamp },
    { "watts",         true,  ch_watts },
    { "lumens",        true,  ch_lumens },
    { "amps",          true,  ch_amps },
    { "circuit",       false, ch_circuit },
    { "volts",         true,  ch_volts },
    { "breaker_amps",  true,  ch_breaker },
    { "group",         false, ch_group },
    { "curve",         false, ch_curve },
    { "min_level",     true,  ch_min },
    { "max_level",     true,  ch_max },
    { "rise_ms",       true,  ch_rise },
    { "fall_ms",       true,  ch_fall },
    { "lead_ms",       true,  ch_lead },
    { "max_amps",      true,  ch_limit },
    { "cord_length_m", true,  ch_cord_m },
    { "cord_awg",      true,  ch_awg },
    { "cord_rated_amps", true, ch_cord_rated },
    { "cord_drop_volts", true, ch_drop },
    { "cord_drop_percent", true, ch_drop_percent },
};

static const struct table tables[TABLE_COUNT] = {
    [TABLE_HOOKUP] = { hookup, COUNT(hookup) },
    [TABLE_CIRCUITS] = { circuits, COUNT(circuits) },
    [TABLE_OUTPUTS] = { outputs, COUNT(outputs) },
    [TABLE_BANKS] = { banks, COUNT(banks) },
    [TABLE_CORDS] = { cords, COUNT(cords) },
    [TABLE_CSV] = { csv, COUNT(csv) },
};

const struct table *sheet_table(enum sheet_table which)
{
    return &tables[which];
}
