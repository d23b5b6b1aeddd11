#include "rigsheet.h"

#include <stdarg.h>
#include <string.h>

#include "cautions.h"
#include "electric.h"
#include "rope.h"
#include "text.h"

#define COUNT(table) (sizeof(table) / sizeof *(table))

/* By definition: international foot, pound and standard gravity. */
#define FT_PER_M (1 / 0.3048)
#define N_PER_KG 9.80665
#define N_PER_LB (0.45359237 * N_PER_KG)

/* Taken where the rig file says nothing: half is the most that knots are said
 * to take, and 12 is at the upper end of the usual factors, for over people. */
#define KNOT_UNKNOWN         0.5
#define DESIGN_OVER_PEOPLE  12.0

/* Sums that meet a limit exactly are not over it, whatever the last bit says. */
#define SLACK 1e-9

enum { TEXT_WIDTH = 96, CELL_SIZE = TC_NAME_SIZE, NAME_COLUMNS = 28 };

/* ---- Sums ---- */

static const struct tc_circuit *circuit_of(const struct tc_rig *rig, const struct tc_channel *c)
{
    return &rig->circuits[c->circuit];
}

static double channel_amps(const struct tc_rig *rig, const struct tc_channel *c)
{
    return load_amps(c->watts, circuit_of(rig, c)->volts);
}

struct sum {
    size_t channels;
    double watts, amps;
};

static void sum_add(struct sum *s, const struct tc_rig *rig, const struct tc_channel *c)
{
    s->channels++;
    s->watts += c->watts;
    s->amps += channel_amps(rig, c);
}

static struct sum circuit_sum(const struct tc_rig *rig, size_t circuit)
{
    struct sum s = { 0 };
    for (size_t i = 0; i < rig->channel_count; i++)
        if ((size_t)rig->channels[i].circuit == circuit) sum_add(&s, rig, &rig->channels[i]);
    return s;
}

static struct sum bank_sum(const struct tc_rig *rig, const struct tc_bank *bank)
{
    struct sum s = { 0 };
    for (size_t i = 0; i < rig->channel_count; i++)
        if (rig->channels[i].number >= bank->first && rig->channels[i].number <= bank->last)
            sum_add(&s, rig, &rig->channels[i]);
    return s;
}

static bool over(double value, double limit)
{
    return value > limit * (1 + SLACK);
}

static bool has_cord(const struct tc_channel *c)
{
    return c->cord_length > 0 || c->cord_awg > 0;
}

static double cord_feet(const struct tc_channel *c)
{
    return c->cord_metric ? c->cord_length * FT_PER_M : c->cord_length;
}

static double cord_drop(const struct tc_rig *rig, const struct tc_channel *c)
{
    return cord_drop_volts(c->cord_awg, cord_feet(c), channel_amps(rig, c));
}

static double cord_drop_percent(const struct tc_rig *rig, const struct tc_channel *c)
{
    return 100 * cord_drop(rig, c) / circuit_of(rig, c)->volts;
}

/* The overhead line's sums, in N, with what the rig file leaves open filled in. */
struct line_sums {
    double tension, knot, design_factor, needed;
    double good_for;        /* 0 = breaking strength not given */
};

static struct line_sums line_sums(const struct tc_overhead *o)
{
    struct line_sums s = {
        .tension = rope_tension(o->span_m, o->sag_m, o->centre_n, o->uniform_n_per_m),
        .knot = o->knot > 0 ? o->knot : KNOT_UNKNOWN,
        .design_factor = o->design_factor > 0 ? o->design_factor : DESIGN_OVER_PEOPLE,
    };
    s.needed = rope_breaking_needed(s.tension, s.knot, s.design_factor);
    s.good_for = rope_working_load(o->breaking_n, s.knot, s.design_factor);
    return s;
}

/* "125.0 lb", or "613.0 N (62.5 kg)". */
static const char *force_text(char *to, size_t size, double newtons, bool metric)
{
    if (metric) snprintf(to, size, "%.1f N (%.1f kg)", newtons, newtons / N_PER_KG);
    else snprintf(to, size, "%.1f lb", newtons / N_PER_LB);
    return to;
}

static const char *length_text(char *to, size_t size, double metres, bool metric)
{
    snprintf(to, size, "%.2f %s", metric ? metres : metres * FT_PER_M, metric ? "m" : "ft");
    return to;
}

/* ---- Findings ---- */

struct findings {
    size_t count;
    rig_finding_fn *tell;
    void *user;
};

static void find(struct findings *f, int channel, const char *format, ...)
    __attribute__((format(printf, 3, 4)));
static void find(struct findings *f, int channel, const char *format, ...)
{
    f->count++;
    if (!f->tell) return;
    struct rig_finding finding = { .channel = channel };
    va_list args;
    va_start(args, format);
    vsnprintf(finding.text, sizeof finding.text, format, args);
    va_end(args);
    f->tell(f->user, &finding);
}

static void find_in_circuits(struct findings *f, const struct tc_rig *rig)
{
    for (size_t i = 0; i < rig->circuit_count; i++) {
        const struct tc_circuit *c = &rig->circuits[i];
        struct sum s = circuit_sum(rig, i);
        char plain[80];
        text_plain(plain, sizeof plain, c->name);
        if (over(s.amps, c->breaker_amps))
            find(f, -1, "circuit %s: %.2f A all on is above its %g A breaker", plain, s.amps, c->breaker_amps);
        else if (over(s.amps, CONTINUOUS_SHARE * c->breaker_amps))
            find(f, -1, "circuit %s: %.2f A all on is above %.2f A, 80 %% of its %g A breaker", plain, s.amps,
                 CONTINUOUS_SHARE * c->breaker_amps, c->breaker_amps);
    }
}

static void find_in_channel(struct findings *f, const struct tc_rig *rig, size_t i)
{
    const struct tc_channel *c = &rig->channels[i];
    double amps = channel_amps(rig, c), rated = cord_rated_amps(c->cord_awg);
    if (c->max_amps > 0 && over(amps, c->max_amps))
        find(f, (int)i, "channel %d: %.2f A is above the %g A of its dimmer output", c->number, amps, c->max_amps);
    if (rated > 0 && over(amps, rated))
        find(f, (int)i, "channel %d: %.2f A is above the %g A that a cord of %d AWG is rated for", c->number,
             amps, rated, c->cord_awg);
    if (over(cord_drop_percent(rig, c), DROP_TOTAL_PERCENT))
        find(f, (int)i, "channel %d: its cord loses %.2f V, %.2f %% of %g V; more than 5 %% is too much by common practice",
             c->number, cord_drop(rig, c), cord_drop_percent(rig, c), circuit_of(rig, c)->volts);
}

static void find_in_banks(struct findings *f, const struct tc_rig *rig)
{
    for (size_t i = 0; i < rig->bank_count; i++) {
        struct sum s = bank_sum(rig, &rig->banks[i]);
        char plain[80];
        if (over(s.amps, rig->banks[i].max_amps))
            find(f, -1, "bank %s: %.2f A all on is above its %g A", text_plain(plain, sizeof plain, rig->banks[i].name),
                 s.amps, rig->banks[i].max_amps);
    }
}

static void find_in_overhead(struct findings *f, const struct tc_overhead *o)
{
    if (!o->given || !(o->breaking_n > 0)) return;
    struct line_sums s = line_sums(o);
    char pull[40], good[40], needed[40];
    if (over(s.tension, s.good_for))
        find(f, -1, "overhead line: it pulls with %s, but with its knot (%g left) and a design factor of %g the rope is "
                    "good for %s; it would need a breaking strength of at least %s, or more sag",
             force_text(pull, sizeof pull, s.tension, o->metric), s.knot, s.design_factor,
             force_text(good, sizeof good, s.good_for, o->metric),
             force_text(needed, sizeof needed, s.needed, o->metric));
}

size_t rigsheet_findings(const struct tc_rig *rig, rig_finding_fn *tell, void *user)
{
    struct findings f = { .tell = tell, .user = user };
    find_in_circuits(&f, rig);
    for (size_t i = 0; i < rig->channel_count; i++) find_in_channel(&f, rig, i);
    find_in_banks(&f, rig);
    find_in_overhead(&f, &rig->overhead);
    return f.count;
}

/* ---- Columns of tables ---- */

/* One column: its head, and the text of its cell in a row, as it is in the rig
 * (not yet made plain). Rows are indices into the table's array of the rig. */
struct column {
    const char *head;
    bool right;
    void (*fill)(char *to, const struct tc_rig *rig, size_t row); /* room for CELL_SIZE */
};

static void put(char *to, const char *format, ...) __attribute__((format(printf, 2, 3)));
static void put(char *to, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    vsnprintf(to, CELL_SIZE, format, args);
    va_end(args);
}

/* A number with up to 2 decimals and no zeros behind them; empty for 0. */
static void put_given(char *to, double value)
{
    *to = 0;
    if (value > 0) put(to, "%.10g", value);
}

static const char *curve_name(enum tc_curve curve)
{
    static const char *const names[] = { [TC_CURVE_LINEAR] = "linear", [TC_CURVE_SQUARE] = "square", [TC_CURVE_LSTAR] = "lstar" };
    return names[curve];
}

static void ch_number(char *to, const struct tc_rig *r, size_t i) { put(to, "%d", r->channels[i].number); }
static void ch_name(char *to, const struct tc_rig *r, size_t i) { put(to, "%s", r->channels[i].name); }
static void ch_kind(char *to, const struct tc_rig *r, size_t i) { put(to, "%s", r->channels[i].kind == TC_BRANCH ? "branch" : "flood"); }
static void ch_lamp(char *to, const struct tc_rig *r, size_t i) { put(to, "%s", r->channels[i].lamp == TC_LAMP_LED ? "led" : "incandescent"); }
static void ch_watts(char *to, const struct tc_rig *r, size_t i) { put(to, "%.10g", r->channels[i].watts); }
static void ch_lumens(char *to, const struct tc_rig *r, size_t i) { put_given(to, r->channels[i].lumens); }
static void ch_amps(char *to, const struct tc_rig *r, size_t i) { put(to, "%.2f", channel_amps(r, &r->channels[i])); }
static void ch_circuit(char *to, const struct tc_rig *r, size_t i) { put(to, "%s", circuit_of(r, &r->channels[i])->name); }
static void ch_volts(char *to, const struct tc_rig *r, size_t i) { put(to, "%.10g", circuit_of(r, &r->channels[i])->volts); }
static void ch_breaker(char *to, const struct tc_rig *r, size_t i) { put(to, "%.10g", circuit_of(r, &r->channels[i])->breaker_amps); }
static void ch_curve(char *to, const struct tc_rig *r, size_t i) { put(to, "%s", curve_name(r->channels[i].curve)); }
static void ch_min(char *to, const struct tc_rig *r, size_t i) { put(to, "%.10g", r->channels[i].min_level); }
static void ch_max(char *to, const struct tc_rig *r, size_t i) { put(to, "%.10g", r->channels[i].max_level); }
static void ch_rise(char *to, const struct tc_rig *r, size_t i) { put_given(to, r->channels[i].rise_ms); }
static void ch_fall(char *to, const struct tc_rig *r, size_t i) { put_given(to, r->channels[i].fall_ms); }
static void ch_lead(char *to, const struct tc_rig *r, size_t i) { put_given(to, r->channels[i].lead_ms); }
static void ch_limit(char *to, const struct tc_rig *r, size_t i) { put_given(to, r->channels[i].max_amps); }
static void ch_awg(char *to, const struct tc_rig *r, size_t i) { put_given(to, r->channels[i].cord_awg); }

static void ch_parent(char *to, const struct tc_rig *r, size_t i)
{
    int parent = r->channels[i].parent;
    *to = 0;
    if (parent >= 0) put(to, "%d", r->channels[parent].number);
}

static void ch_parent_name(char *to, const struct tc_rig *r, size_t i)
{
    int parent = r->channels[i].parent;
    *to = 0;
    if (parent >= 0) put(to, "%s", r->channels[parent].name);
}

static void ch_forks(char *to, const struct tc_rig *r, size_t i)
{
    int parent = r->channels[i].parent;
    if (parent >= 0) put(to, "%d %.*s", r->channels[parent].number, CELL_SIZE - 12, r->channels[parent].name);
    else put(to, "%s", r->channels[i].kind == TC_BRANCH ? "(root)" : "-");
}

static void ch_levels(char *to, const struct tc_rig *r, size_t i)
{
    put(to, "%g..%g", r->channels[i].min_level, r->channels[i].max_level);
}

static void ch_group(char *to, const struct tc_rig *r, size_t i)
{
    int group = r->channels[i].group;
    put(to, "%s", group >= 0 ? r->groups[group].name : "");
}

static void ch_cord(char *to, const struct tc_rig *r, size_t i)
{
    const struct tc_channel *c = &r->channels[i];
    *to = 0;
    if (c->cord_length > 0) put(to, "%.10g %s", c->cord_length, c->cord_metric ? "m" : "ft");
}

static void ch_cord_rated(char *to, const struct tc_rig *r, size_t i)
{
    put_given(to, cord_rated_amps(r->channels[i].cord_awg));
}

static void ch_cord_m(char *to, const struct tc_rig *r, size_t i)
{
    *to = 0;
    if (r->channels[i].cord_length > 0) put(to, "%.2f", cord_feet(&r->channels[i]) / FT_PER_M);
}

static void ch_drop(char *to, const struct tc_rig *r, size_t i)
{
    *to = 0;
    double volts = cord_drop(r, &r->channels[i]);
    if (volts > 0) put(to, "%.2f", volts);
}

static void ch_drop_percent(char *to, const struct tc_rig *r, size_t i)
{
    *to = 0;
    double percent = cord_drop_percent(r, &r->channels[i]);
    if (percent > 0) put(to, "%.2f", percent);
}

/* The run at which this cord and load reach the usual 3 %. */
static void ch_cord_usual(char *to, const struct tc_rig *r, size_t i)
{
    const struct tc_channel *c = &r->channels[i];
    double feet = cord_length_ft(c->cord_awg, channel_amps(r, c), circuit_of(r, c)->volts, DROP_BRANCH_PERCENT);
    *to = 0;
    double run = c->cord_metric ? feet / FT_PER_M : feet;
    if (feet > 0) put(to, "%s%.0f %s", run > 1000 ? "over " : "", run > 1000 ? 1000 : run, c->cord_metric ? "m" : "ft");
}

/* For the text sheet: the percent, with a word where it is much. */
static void ch_drop_words(char *to, const struct tc_rig *r, size_t i)
{
    const struct tc_channel *c = &r->channels[i];
    double percent = cord_drop_percent(r, c);
    if (!(c->cord_length > 0)) put(to, "length not given");
    else if (!c->cord_awg) put(to, "gauge not given");
    else if (!(copper_ohms_per_kft(c->cord_awg) > 0)) put(to, "no figures for this gauge");
    else put(to, "%.2f %%%s", percent, over(percent, DROP_TOTAL_PERCENT) ? "  too much"
             : over(percent, DROP_BRANCH_PERCENT) ? "  above the usual 3 %" : "");
}

static void ci_name(char *to, const struct tc_rig *r, size_t i) { put(to, "%s", r->circuits[i].name); }
static void ci_breaker(char *to, const struct tc_rig *r, size_t i) { put(to, "%g A", r->circuits[i].breaker_amps); }
static void ci_volts(char *to, const struct tc_rig *r, size_t i) { put(to, "%g V", r->circuits[i].volts); }
static void ci_channels(char *to, const struct tc_rig *r, size_t i) { put(to, "%zu", circuit_sum(r, i).channels); }
static void ci_watts(char *to, const struct tc_rig *r, size_t i) { put(to, "%.1f W", circuit_sum(r, i).watts); }
static void ci_amps(char *to, const struct tc_rig *r, size_t i) { put(to, "%.2f A", circuit_sum(r, i).amps); }

static void ci_share(char *to, const struct tc_rig *r, size_t i)
{
    put(to, "%.1f %%", 100 * circuit_sum(r, i).amps / r->circuits[i].breaker_amps);
}

static void ci_most(char *to, const struct tc_rig *r, size_t i)
{
    double amps = CONTINUOUS_SHARE * r->circuits[i].breaker_amps;
    put(to, "%.2f A = %.0f W", amps, amps * r->circuits[i].volts);
}

static void ci_left(char *to, const struct tc_rig *r, size_t i)
{
    double left = CONTINUOUS_SHARE * r->circuits[i].breaker_amps - circuit_sum(r, i).amps;
    if (left < -SLACK) put(to, "OVER by %.2f A", -left);
    else put(to, "%.2f A", left);
}

static void ba_name(char *to, const struct tc_rig *r, size_t i) { put(to, "%s", r->banks[i].name); }
static void ba_channels(char *to, const struct tc_rig *r, size_t i) { put(to, "%d-%d (%zu)", r->banks[i].first, r->banks[i].last, bank_sum(r, &r->banks[i]).channels); }
static void ba_watts(char *to, const struct tc_rig *r, size_t i) { put(to, "%.1f W", bank_sum(r, &r->banks[i]).watts); }
static void ba_amps(char *to, const struct tc_rig *r, size_t i) { put(to, "%.2f A", bank_sum(r, &r->banks[i]).amps); }
static void ba_limit(char *to, const struct tc_rig *r, size_t i) { put(to, "%g A", r->banks[i].max_amps); }

static void ba_left(char *to, const struct tc_rig *r, size_t i)
{
    double left = r->banks[i].max_amps - bank_sum(r, &r->banks[i]).amps;
    if (left < -SLACK) put(to, "OVER by %.2f A", -left);
    else put(to, "%.2f A", left);
}

static void ch_output_amps(char *to, const struct tc_rig *r, size_t i) { put(to, "%.2f A", channel_amps(r, &r->channels[i])); }
static void ch_output_limit(char *to, const struct tc_rig *r, size_t i) { put(to, "%g A", r->channels[i].max_amps); }

static void ch_output_left(char *to, const struct tc_rig *r, size_t i)
{
    double left = r->channels[i].max_amps - channel_amps(r, &r->channels[i]);
    if (left < -SLACK) put(to, "OVER by %.2f A", -left);
    else put(to, "%.2f A", left);
}

static const struct column hookup_columns[] = {
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

static const struct column circuit_columns[] = {
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

static const struct column output_columns[] = {
    { "ch",    true,  ch_number },
    { "name",  false, ch_name },
    { "amps",  true,  ch_output_amps },
    { "limit", true,  ch_output_limit },
    { "left",  true,  ch_output_left },
};

static const struct column bank_columns[] = {
    { "bank",     false, ba_name },
    { "channels", false, ba_channels },
    { "all on",   true,  ba_watts },
    { "amps",     true,  ba_amps },
    { "limit",    true,  ba_limit },
    { "left",     true,  ba_left },
};

static const struct column cord_columns[] = {
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

static const struct column csv_columns[] = {
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

/* ---- Tables for people ---- */

enum { COLUMNS_MOST = 16 };

typedef bool row_fn(const struct tc_rig *rig, size_t row);

/* The cell's text made plain and cut to NAME_COLUMNS columns of a terminal. */
static void plain_cell(char *to, size_t size, const struct column *column, const struct tc_rig *rig, size_t row)
{
    char raw[CELL_SIZE];
    column->fill(raw, rig, row);
    text_plain(to, size, raw);
    if (text_columns(to) <= NAME_COLUMNS) return;
    /* Shorten by whole characters until "..." fits. */
    size_t n = strlen(to);
    while (n && text_columns(to) > NAME_COLUMNS - 3) {
        do n--;
        while (n && ((unsigned char)to[n] & 0xC0) == 0x80);
        to[n] = 0;
    }
    memcpy(to + n, "...", 4);
}

/* Writes a row's cells one by one; blanks wait in `owed` until text follows, so
 * that no line ends in them. */
static void write_cell(FILE *out, const char *text, size_t width, bool right, size_t *owed)
{
    size_t columns = text_columns(text), pad = width > columns ? width - columns : 0;
    if (right) *owed += pad;
    if (*text) {
        fprintf(out, "%*s%s", (int)*owed, "", text);
        *owed = 0;
    }
    *owed += 2 + (right ? 0 : pad);
}

/* Columns that are empty in every row are left out. */
static void write_table(FILE *out, const struct tc_rig *rig, const struct column *columns, size_t count,
                        size_t rows, row_fn *wanted)
{
    char cell[CELL_SIZE];
    size_t width[COLUMNS_MOST] = { 0 }, owed = 2;
    for (size_t c = 0; c < count; c++) {
        for (size_t row = 0; row < rows; row++) {
            if (wanted && !wanted(rig, row)) continue;
            plain_cell(cell, sizeof cell, &columns[c], rig, row);
            size_t n = text_columns(cell);
            if (n > width[c]) width[c] = n;
        }
        if (width[c] && strlen(columns[c].head) > width[c]) width[c] = strlen(columns[c].head);
    }
    for (size_t c = 0; c < count; c++)
        if (width[c]) write_cell(out, columns[c].head, width[c], columns[c].right, &owed);
    putc('\n', out);
    for (size_t row = 0; row < rows; row++) {
        if (wanted && !wanted(rig, row)) continue;
        owed = 2;
        for (size_t c = 0; c < count; c++) {
            if (!width[c]) continue;
            plain_cell(cell, sizeof cell, &columns[c], rig, row);
            write_cell(out, cell, width[c], columns[c].right, &owed);
        }
        putc('\n', out);
    }
}

static void write_caution(FILE *out, enum caution which)
{
    caution_wrap(out, caution_text(which), "  ! ", "    ", TEXT_WIDTH);
}

/* ---- The tree of branches ---- */

/* Room for the lines in front of the deepest branch: 3 columns each level, of
 * which the stroke takes 3 bytes. */
struct tree {
    FILE *out;
    const struct tc_rig *rig;
    char lines[TC_MAX_CHANNELS * 5 + 1];
};

static bool is_child(const struct tc_rig *rig, size_t i, int parent)
{
    return rig->channels[i].kind == TC_BRANCH && rig->channels[i].parent == parent;
}

/* The branches that grow from `parent`, each with its own below it. `used` is
 * the length of the lines in front. The rig has no loops, so this ends. */
static void write_branches(struct tree *t, int parent, size_t used)
{
    size_t last = 0, count = 0;
    for (size_t i = 0; i < t->rig->channel_count; i++)
        if (is_child(t->rig, i, parent)) last = i, count++;
    for (size_t i = 0; count && i <= last; i++) {
        if (!is_child(t->rig, i, parent)) continue;
        const struct tc_channel *c = &t->rig->channels[i];
        char plain[120];
        text_plain(plain, sizeof plain, c->name);
        t->lines[used] = 0;
        fprintf(t->out, "  %s%s%d %s\n", t->lines, parent < 0 ? "" : i == last ? "└─ " : "├─ ", c->number, plain);
        const char *more = parent < 0 ? "" : i == last ? "   " : "│  ";
        size_t n = strlen(more);
        memcpy(t->lines + used, more, n);
        write_branches(t, (int)i, used + n);
    }
}

/* ---- Parts of the sheet ---- */

static void write_head(FILE *out, const struct tc_rig *rig)
{
    char plain[CELL_SIZE];
    struct sum all = { 0 };
    size_t branches = 0;
    for (size_t i = 0; i < rig->channel_count; i++) {
        sum_add(&all, rig, &rig->channels[i]);
        branches += rig->channels[i].kind == TC_BRANCH;
    }
    size_t floods = rig->channel_count - branches;
    fprintf(out, "Rig sheet: %s\n", text_plain(plain, sizeof plain, rig->name));
    fprintf(out, "%zu channel%s (%zu branch%s, %zu flood%s), mains %g V %g Hz, all on %.1f W, %.2f A\n",
            rig->channel_count, rig->channel_count == 1 ? "" : "s", branches, branches == 1 ? "" : "es", floods,
            floods == 1 ? "" : "s", rig->mains_volts, rig->mains_hz, all.watts, all.amps);
    fprintf(out, "A phase-cut dimmer changes light once in each half-cycle: every %.1f ms.\n", half_cycle_ms(rig->mains_hz));
}

static bool is_branch(const struct tc_rig *rig, size_t i)
{
    return rig->channels[i].kind == TC_BRANCH;
}

static bool output_wanted(const struct tc_rig *rig, size_t i)
{
    return rig->channels[i].max_amps > 0;
}

static bool cord_wanted(const struct tc_rig *rig, size_t i)
{
    return has_cord(&rig->channels[i]);
}

static bool any_channel(const struct tc_rig *rig, row_fn *wanted)
{
    for (size_t i = 0; i < rig->channel_count; i++)
        if (wanted(rig, i)) return true;
    return false;
}

static void write_load(FILE *out, const struct tc_rig *rig)
{
    fputs("\nLoad of the circuits (nameplates, everything on)\n", out);
    write_table(out, rig, circuit_columns, COUNT(circuit_columns), rig->circuit_count, NULL);
    fputs("  The 80 % line is a line to stay below, and less is better.\n", out);
    write_caution(out, CAUTION_CONTINUOUS);
    write_caution(out, CAUTION_DRIVERS);
}

static void write_dimmer(FILE *out, const struct tc_rig *rig)
{
    if (any_channel(rig, output_wanted)) {
        fputs("\nDimmer outputs\n", out);
        write_table(out, rig, output_columns, COUNT(output_columns), rig->channel_count, output_wanted);
    }
    if (rig->bank_count) {
        fputs("\nDimmer banks\n", out);
        write_table(out, rig, bank_columns, COUNT(bank_columns), rig->bank_count, NULL);
    }
}

static void write_cords(FILE *out, const struct tc_rig *rig)
{
    if (!any_channel(rig, cord_wanted)) return;
    fputs("\nCord runs (2 wires in use, copper at 75 C, out and back)\n", out);
    write_table(out, rig, cord_columns, COUNT(cord_columns), rig->channel_count, cord_wanted);
    write_caution(out, CAUTION_CORDS);
}

static void write_overhead(FILE *out, const struct tc_rig *rig)
{
    const struct tc_overhead *o = &rig->overhead;
    if (!o->given) return;
    struct line_sums s = line_sums(o);
    char a[40], b[40];
    fputs("\nOverhead line\n", out);
    fprintf(out, "  span %s, sag in the middle %s (%.1f %% of the span)\n", length_text(a, sizeof a, o->span_m, o->metric),
            length_text(b, sizeof b, o->sag_m, o->metric), 100 * o->sag_m / o->span_m);
    fprintf(out, "  carries %s in the middle and %s spread along it\n", force_text(a, sizeof a, o->centre_n, o->metric),
            force_text(b, sizeof b, o->uniform_n_per_m * o->span_m, o->metric));
    fprintf(out, "  pull at each end: %s\n", force_text(a, sizeof a, s.tension, o->metric));
    fprintf(out, "  knot leaves %g %% of the rope's strength%s, design factor %g%s\n", 100 * s.knot,
            o->knot > 0 ? "" : " (taken, not given)", s.design_factor, o->design_factor > 0 ? "" : " (taken, not given)");
    fprintf(out, "  the rope needs a breaking strength of at least %s\n", force_text(a, sizeof a, s.needed, o->metric));
    if (o->breaking_n > 0)
        fprintf(out, "  breaking strength given: %s%s\n", force_text(a, sizeof a, o->breaking_n, o->metric),
                over(s.tension, s.good_for) ? ", TOO WEAK" : "");
    fprintf(out, "  if it stretches by 1 %%, the middle comes down to %s\n",
            length_text(a, sizeof a, rope_sag_stretched(o->span_m, o->sag_m, 0.01), o->metric));
    if (s.design_factor < DESIGN_OVER_PEOPLE)
        caution_wrap(out, "Where people walk or sit below, a design factor of 12 and more and a second line for safety "
                          "are common practice.", "  ! ", "    ", TEXT_WIDTH);
    write_caution(out, CAUTION_LINE);
    write_caution(out, CAUTION_POWER_LINES);
}

/* ---- Notes on lamps ---- */

static bool is_led(const struct tc_rig *rig, size_t i)
{
    return rig->channels[i].lamp == TC_LAMP_LED;
}

static bool is_filament(const struct tc_rig *rig, size_t i)
{
    return rig->channels[i].lamp == TC_LAMP_INCANDESCENT;
}

static bool is_led_flood(const struct tc_rig *rig, size_t i)
{
    const struct tc_channel *c = &rig->channels[i];
    return c->kind == TC_FLOOD && c->lamp == TC_LAMP_LED && !(c->rise_ms > 0) && !(c->fall_ms > 0);
}

/* Slower than a light frame at the usual 40 a second. */
static bool is_slow(const struct tc_rig *rig, size_t i)
{
    return rig->channels[i].rise_ms > 25;
}

/* Shares its name with an earlier channel. */
static bool is_namesake(const struct tc_rig *rig, size_t i)
{
    for (size_t k = 0; k < i; k++)
        if (!strcmp(rig->channels[k].name, rig->channels[i].name)) return true;
    return false;
}

/* "1-4, 7": the numbers of those that are wanted. Cut with "..." if it is long. */
static const char *list_channels(char *to, size_t size, const struct tc_rig *rig, row_fn *wanted)
{
    size_t used = 0, n = rig->channel_count, runs = 0;
    *to = 0;
    for (size_t i = 0; i < n;) {
        size_t end = i;
        if (!wanted(rig, i)) {
            i++;
            continue;
        }
        while (end + 1 < n && wanted(rig, end + 1) && rig->channels[end + 1].number == rig->channels[end].number + 1)
            end++;
        if (used + 40 > size) {
            snprintf(to + used, size - used, ", ...");
            break;
        }
        int first = rig->channels[i].number, last = rig->channels[end].number;
        used += (size_t)snprintf(to + used, size - used, first == last ? "%s%d" : "%s%d-%d", runs ? ", " : "", first, last);
        runs++;
        i = end + 1;
    }
    return to;
}

static void lamp_note(FILE *out, const struct tc_rig *rig, row_fn *wanted, const char *note)
{
    char list[160], text[800];
    if (!any_channel(rig, wanted)) return;
    list_channels(list, sizeof list, rig, wanted);
    snprintf(text, sizeof text, "Channel%s %s: %s", strpbrk(list, "-,") ? "s" : "", list, note);
    caution_wrap(out, text, "  ! ", "    ", TEXT_WIDTH);
}

static void write_notes(FILE *out, const struct tc_rig *rig)
{
    fputs("\nLamps\n", out);
    lamp_note(out, rig, is_led, caution_text(CAUTION_LED_DIMMING));
    lamp_note(out, rig, is_led_flood, caution_text(CAUTION_LED_SLOW));
    lamp_note(out, rig, is_filament, caution_text(CAUTION_FILAMENT));
    lamp_note(out, rig, is_slow, "They rise slower than a light frame: use them for rumbles and glow rather than for strokes, "
                                 "or give them a lead_ms.");
    lamp_note(out, rig, is_namesake, "They carry the name of an earlier channel, so the columns of frames.csv can't be told "
                                     "apart by name.");
    write_caution(out, CAUTION_STRINGS);
}

struct listing {
    FILE *out;
};

static void list_finding(void *user, const struct rig_finding *finding)
{
    const struct listing *l = user;
    caution_wrap(l->out, finding->text, "  - ", "    ", TEXT_WIDTH);
}

static size_t write_findings(FILE *out, const struct tc_rig *rig)
{
    size_t count = rigsheet_findings(rig, NULL, NULL);
    fprintf(out, "\nFindings:%s\n", count ? "" : " none");
    return rigsheet_findings(rig, list_finding, &(struct listing){ out });
}

/* ---- The sheet ---- */

size_t rigsheet_text(FILE *out, const struct tc_rig *rig)
{
    write_head(out, rig);
    fputs("\nHookup\n", out);
    write_table(out, rig, hookup_columns, COUNT(hookup_columns), rig->channel_count, NULL);
    if (any_channel(rig, is_branch)) {
        struct tree tree = { .out = out, .rig = rig };
        fputs("\nBranches, from the cloud down\n", out);
        write_branches(&tree, -1, 0);
    }
    write_load(out, rig);
    write_dimmer(out, rig);
    write_cords(out, rig);
    write_overhead(out, rig);
    write_notes(out, rig);
    fputs("\nBefore you plug in\n", out);
    write_caution(out, CAUTION_WIRING);
    write_caution(out, CAUTION_OUTDOORS);
    write_caution(out, CAUTION_FLASHING);
    return write_findings(out, rig);
}

/* Gathers the findings of one channel into one cell. */
struct gathering {
    int channel;
    size_t used;
    char text[1000];
};

static void gather(void *user, const struct rig_finding *finding)
{
    struct gathering *g = user;
    if (finding->channel != g->channel || g->used >= sizeof g->text) return;
    g->used += (size_t)snprintf(g->text + g->used, sizeof g->text - g->used, "%s%s", g->used ? "; " : "", finding->text);
}

void rigsheet_csv(FILE *out, const struct tc_rig *rig)
{
    char cell[CELL_SIZE];
    for (size_t c = 0; c < COUNT(csv_columns); c++) fprintf(out, "%s,", csv_columns[c].head);
    fputs("findings\r\n", out);
    for (size_t i = 0; i < rig->channel_count; i++) {
        for (size_t c = 0; c < COUNT(csv_columns); c++) {
            csv_columns[c].fill(cell, rig, i);
            csv_cell(out, cell, true);
            putc(',', out);
        }
        struct gathering g = { .channel = (int)i };
        struct findings f = { .tell = gather, .user = &g };
        find_in_channel(&f, rig, i);
        csv_cell(out, g.text, true);
        fputs("\r\n", out);
    }
}
