#include "app/sheet/rig_sums.h"

#include <stdarg.h>
#include <stdio.h>

#include "rig/electric.h"
#include "rig/load.h"
#include "rig/rope.h"
#include "words/text.h"
#include "words/units.h"

/* ---- Sums ---- */

const struct tc_circuit *circuit_of(const struct tc_rig *rig, const struct tc_channel *c)
{
    return &rig->circuits[c->circuit];
}

double channel_amps(const struct tc_rig *rig, const struct tc_channel *c)
{
    return load_amps(c->watts, circuit_of(rig, c)->volts);
}

void sum_add(struct sum *s, const struct tc_rig *rig, const struct tc_channel *c)
{
    s->channels++;
    s->watts += c->watts;
    s->amps += channel_amps(rig, c);
}

struct sum circuit_sum(const struct tc_rig *rig, size_t circuit)
{
    struct sum s = { 0 };
    for (size_t i = 0; i < rig->channel_count; i++)
        if ((size_t)rig->channels[i].circuit == circuit) sum_add(&s, rig, &rig->channels[i]);
    return s;
}

struct sum bank_sum(const struct tc_rig *rig, const struct tc_bank *bank)
{
    struct sum s = { 0 };
    for (size_t i = 0; i < rig->channel_count; i++)
        if (rig->channels[i].number >= bank->first && rig->channels[i].number <= bank->last)
            sum_add(&s, rig, &rig->channels[i]);
    return s;
}

double cord_feet(const struct tc_channel *c)
{
    return c->cord_metric ? c->cord_length / M_PER_FT : c->cord_length;
}

double cord_drop(const struct tc_rig *rig, const struct tc_channel *c)
{
    return cord_drop_volts(c->cord_awg, cord_feet(c), channel_amps(rig, c));
}

double cord_drop_percent(const struct tc_rig *rig, const struct tc_channel *c)
{
    return 100 * cord_drop(rig, c) / circuit_of(rig, c)->volts;
}

struct line_sums line_sums(const struct tc_overhead *o)
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

const char *force_text(char *to, size_t size, double newtons, bool metric)
{
    if (metric) snprintf(to, size, "%.1f N (%.1f kg)", newtons, newtons / N_PER_KG);
    else snprintf(to, size, "%.1f lb", newtons / N_PER_LB);
    return to;
}

const char *length_text(char *to, size_t size, double metres, bool metric)
{
    snprintf(to, size, "%.2f %s", metric ? metres : metres / M_PER_FT, metric ? "m" : "ft");
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
        if (sum_over(s.amps, c->breaker_amps))
            find(f, -1, "circuit %s: %.2f A all on is above its %g A breaker", plain, s.amps, c->breaker_amps);
        else if (circuit_over(c, s.watts))
            find(f, -1, "circuit %s: %.2f A all on is above %.2f A, 80 %% of its %g A breaker", plain, s.amps,
                 CONTINUOUS_SHARE * c->breaker_amps, c->breaker_amps);
    }
}

static void find_in_channel(struct findings *f, const struct tc_rig *rig, size_t i)
{
    const struct tc_channel *c = &rig->channels[i];
    double amps = channel_amps(rig, c), rated = cord_rated_amps(c->cord_awg);
    if (c->max_amps > 0 && sum_over(amps, c->max_amps))
        find(f, (int)i, "channel %d: %.2f A is above the %g A of its dimmer output",
             c->number, amps, c->max_amps);
    if (rated > 0 && sum_over(amps, rated))
        find(f, (int)i, "channel %d: %.2f A is above the %g A that a cord of %d AWG is rated for", c->number,
             amps, rated, c->cord_awg);
    if (sum_over(cord_drop_percent(rig, c), DROP_TOTAL_PERCENT))
        find(f, (int)i,
             "channel %d: its cord loses %.2f V, %.2f %% of %g V; more than 5 %% is too much by common practice",
             c->number, cord_drop(rig, c), cord_drop_percent(rig, c), circuit_of(rig, c)->volts);
}

static void find_in_banks(struct findings *f, const struct tc_rig *rig)
{
    for (size_t i = 0; i < rig->bank_count; i++) {
        struct sum s = bank_sum(rig, &rig->banks[i]);
        char plain[80];
        if (sum_over(s.amps, rig->banks[i].max_amps))
            find(f, -1, "bank %s: %.2f A all on is above its %g A",
                 text_plain(plain, sizeof plain, rig->banks[i].name),
                 s.amps, rig->banks[i].max_amps);
    }
}

static void find_in_overhead(struct findings *f, const struct tc_overhead *o)
{
    if (!o->given || !(o->breaking_n > 0)) return;
    struct line_sums s = line_sums(o);
    char pull[40], good[40], needed[40];
    if (sum_over(s.tension, s.good_for))
        find(f, -1,
             "overhead line: it pulls with %s, but with its knot (%g left) and a design factor of %g the rope is "
                    "good for %s; it would need a breaking strength of at least %s, or more sag",
             force_text(pull, sizeof pull, s.tension, o->metric), s.knot, s.design_factor,
             force_text(good, sizeof good, s.good_for, o->metric),
             force_text(needed, sizeof needed, s.needed, o->metric));
}

size_t rig_findings(const struct tc_rig *rig, rig_finding_fn *tell, void *user)
{
    struct findings f = { .tell = tell, .user = user };
    find_in_circuits(&f, rig);
    for (size_t i = 0; i < rig->channel_count; i++) find_in_channel(&f, rig, i);
    find_in_banks(&f, rig);
    find_in_overhead(&f, &rig->overhead);
    return f.count;
}

