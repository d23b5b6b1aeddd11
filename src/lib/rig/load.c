#include "rig/load.h"

#include <string.h>

#include "rig/electric.h"
#include "words/memory.h"
#include "words/units.h"

struct load_meter {
    const struct tc_rig *rig;
    double full;
    struct load_report report;
    double *circuit_now;      /* watts of each circuit in this frame */
    uint16_t *last;           /* levels of the frame before */
    uint64_t frames, lit;
    bool dark;                /* the frame before was dark */
    int64_t dark_since_ms, at_ms;
};

double circuit_advice_w(const struct tc_circuit *c)
{
    return CONTINUOUS_SHARE * c->breaker_amps * c->volts;
}

bool circuit_over(const struct tc_circuit *c, double all_on_w)
{
    return sum_over(all_on_w, circuit_advice_w(c));
}

enum tc_status load_meter_create(struct load_meter **out, const struct tc_rig *rig, uint16_t full)
{
    *out = NULL;
    struct load_meter *m = memory_new(1, sizeof *m);
    if (!m) return TC_ERR_MEMORY;
    m->rig = rig;
    m->full = full;
    /* One spare, so that a rig without circuits is no special case. */
    m->report.channels = memory_new(rig->channel_count + 1, sizeof *m->report.channels);
    m->report.circuits = memory_new(rig->circuit_count + 1, sizeof *m->report.circuits);
    m->circuit_now = memory_new(rig->circuit_count + 1, sizeof *m->circuit_now);
    m->last = memory_new(rig->channel_count + 1, sizeof *m->last);
    if (!m->report.channels || !m->report.circuits || !m->circuit_now || !m->last) goto fail;

    for (size_t c = 0; c < rig->channel_count; c++) {
        const struct tc_channel *channel = &rig->channels[c];
        m->report.channels[c].all_on_w = channel->watts;
        m->report.rig.all_on_w += channel->watts;
        if (channel->circuit >= 0 && (size_t)channel->circuit < rig->circuit_count)
            m->report.circuits[channel->circuit].all_on_w += channel->watts;
    }
    *out = m;
    return TC_OK;
fail:
    load_meter_destroy(m);
    return TC_ERR_MEMORY;
}

static void reach(struct load_row *row, double watts, int64_t at_ms)
{
    if (watts <= row->reached_w) return;
    row->reached_w = watts;
    row->reached_at_ms = at_ms;
}

static void end_dark(struct load_meter *m, int64_t at_ms)
{
    int64_t length = at_ms - m->dark_since_ms;
    if (m->dark && length > m->report.longest_dark_ms) m->report.longest_dark_ms = length;
}

/* Returns true if any channel is lit. */
static bool weigh(struct load_meter *m, const uint16_t *levels, int64_t at_ms)
{
    const struct tc_rig *rig = m->rig;
    bool lit = false;
    double sum = 0;
    for (size_t k = 0; k < rig->circuit_count; k++) m->circuit_now[k] = 0;
    for (size_t c = 0; c < rig->channel_count; c++) {
        if (!levels[c]) continue;
        lit = true;
        double watts = rig->channels[c].watts * levels[c] / m->full;
        int circuit = rig->channels[c].circuit;
        sum += watts;
        reach(&m->report.channels[c], watts, at_ms);
        if (circuit >= 0 && (size_t)circuit < rig->circuit_count) m->circuit_now[circuit] += watts;
    }
    for (size_t k = 0; lit && k < rig->circuit_count; k++)
        reach(&m->report.circuits[k], m->circuit_now[k], at_ms);
    reach(&m->report.rig, sum, at_ms);
    return lit;
}

void load_meter_step(struct load_meter *m, const uint16_t *levels, int64_t at_ms)
{
    size_t size = m->rig->channel_count * sizeof *levels;
    bool lit = m->frames && !m->dark;
    if (!m->frames || memcmp(levels, m->last, size) != 0) {
        lit = weigh(m, levels, at_ms);
        memcpy(m->last, levels, size);
    }
    if (lit) end_dark(m, at_ms);
    else if (!m->dark) m->dark_since_ms = at_ms;
    m->dark = !lit;
    m->lit += lit;
    m->frames++;
    m->at_ms = at_ms;
}

void load_meter_report(struct load_meter *m, struct load_report *out)
{
    end_dark(m, m->at_ms);
    m->report.lit_share = m->frames ? (double)m->lit / (double)m->frames : 0;
    *out = m->report;
    m->report = (struct load_report){ 0 };
}

void load_meter_destroy(struct load_meter *m)
{
    if (!m) return;
    load_report_clear(&m->report);
    memory_free(m->circuit_now);
    memory_free(m->last);
    memory_free(m);
}

void load_report_clear(struct load_report *r)
{
    memory_free(r->channels);
    memory_free(r->circuits);
    *r = (struct load_report){ 0 };
}
