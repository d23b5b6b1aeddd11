/* A timeline looked at as a whole: how it flashes and what it draws. Played and
 * counted by the same code that audits a frames.csv. */
#include <string.h>

#include "rig/load.h"
#include "show/showing.h"
#include "words/memory.h"

static struct tc_load load_of(const struct load_row *row)
{
    return (struct tc_load){ row->all_on_w, row->reached_w, row->reached_at_ms };
}

static enum tc_status report(const struct tc_rig *rig, const struct shown *shown, struct tc_check *out)
{
    const struct flash_report *flash = &shown->flash;
    *out = (struct tc_check){
        .too_fast = flash->limit && flash->peak_transitions > 2 * flash->limit,
        .peak_transitions = flash->peak_transitions, .peak_at_ms = flash->peak_at_ms,
        .transitions = flash->transitions, .extended_ms = flash->extended_ms,
        .lit_share = shown->load.lit_share, .longest_dark_ms = shown->load.longest_dark_ms,
        .all = load_of(&shown->load.rig),
    };
    memcpy(out->peak_series, flash->peak_series, sizeof out->peak_series);
    out->circuits = memory_new(rig->circuit_count + 1, sizeof *out->circuits);
    if (!out->circuits) return TC_ERR_MEMORY;
    for (size_t i = 0; i < rig->circuit_count; i++) {
        out->circuits[i] = load_of(&shown->load.circuits[i]);
        out->over_breaker += out->circuits[i].all_on_w > circuit_advice_w(&rig->circuits[i]);
    }
    return TC_OK;
}

enum tc_status tc_check_run(const struct tc_timeline *t, const struct tc_rig *rig, const struct tc_settings *s,
                            const struct tc_watch *watch, struct tc_check *out)
{
    struct shown shown;
    memset(out, 0, sizeof *out);
    enum tc_status status = showing_run(&(struct showing){ .timeline = t, .rig = rig, .settings = s, .watch = watch,
                                                           .shown = &shown });
    if (status == TC_OK) status = report(rig, &shown, out);
    shown_clear(&shown);
    return status;
}

void tc_check_clear(struct tc_check *c)
{
    memory_free(c->circuits);
    memset(c, 0, sizeof *c);
}
