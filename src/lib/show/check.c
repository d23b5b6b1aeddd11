/* A timeline looked at as a whole, one that was cued or a frames.csv: how it
 * flashes and what it draws. */
#include <string.h>

#include "light/audit.h"
#include "light/flash_count.h"
#include "rig/load.h"
#include "rig/rig_check.h"
#include "show/showing.h"
#include "words/memory.h"
#include "words/settings.h"
#include "words/status.h"
#include "words/text.h"

static struct tc_load load_of(const struct load_row *row)
{
    return (struct tc_load){ row->all_on_w, row->reached_w, row->reached_at_ms };
}

static enum tc_status report(const struct tc_rig *rig, const struct flash_report *flash, const struct load_report *load,
                             struct tc_check *out)
{
    *out = (struct tc_check){
        .too_fast = flash_report_too_fast(flash),
        .peak_transitions = flash->peak_transitions, .peak_at_ms = flash->peak_at_ms,
        .transitions = flash->transitions, .extended_ms = flash->extended_ms,
        .lit_share = load->lit_share, .longest_dark_ms = load->longest_dark_ms,
        .all = load_of(&load->rig),
    };
    memcpy(out->peak_series, flash->peak_series, sizeof out->peak_series);
    out->circuits = memory_new(rig->circuit_count + 1, sizeof *out->circuits);
    if (!out->circuits) return TC_ERR_MEMORY;
    for (size_t i = 0; i < rig->circuit_count; i++) {
        out->circuits[i] = load_of(&load->circuits[i]);
        out->over_breaker += circuit_over(&rig->circuits[i], out->circuits[i].all_on_w);
    }
    return TC_OK;
}

enum tc_status tc_check_run(const struct tc_timeline *t, const struct tc_rig *rig, const struct tc_settings *s,
                            const struct tc_watch *watch, struct tc_check *out, struct tc_problem *why)
{
    struct shown shown;
    memset(out, 0, sizeof *out);
    enum tc_status status = showing_run(&(struct showing){ .timeline = t, .rig = rig, .settings = s, .watch = watch,
                                                           .shown = &shown }, why);
    if (status == TC_OK && (status = report(rig, &shown.flash, &shown.load, out)) != TC_OK) problem_say(why, status);
    shown_clear(&shown);
    return status;
}

/* The first thing that is wrong with a table, by its line. */
static enum tc_status refuse_table(const struct audit *a, const char *shown, struct tc_problem *why)
{
    const struct audit_remark *first = NULL;
    char plain[256];
    text_plain(plain, sizeof plain, shown);
    for (int topic = 0; topic < AUDIT_TOPICS; topic++)
        if (a->counts[topic] && (!first || a->remarks[topic][0].line < first->line)) first = &a->remarks[topic][0];
    if (first && first->column)
        return problem_set(why, TC_ERR_FORM, "%s:%ld: column %zu: %s", plain, first->line, first->column, first->text);
    if (first) return problem_set(why, TC_ERR_FORM, "%s:%ld: %s", plain, first->line, first->text);
    return problem_set(why, TC_ERR_FORM, "%s: the last row is not dark: all levels must be 0 there", plain);
}

enum tc_status tc_check_frames(const char *text, size_t size, const char *shown, const struct tc_rig *rig,
                               const struct tc_settings *s, const struct tc_watch *watch, struct tc_check *out,
                               struct tc_problem *why)
{
    struct tc_settings settings;
    memset(out, 0, sizeof *out);
    enum tc_status status = settings_take(&settings, s, why);
    if (status == TC_OK) status = rig_check(rig, why);
    if (status != TC_OK) return status;
    struct audit *a = memory_new(1, sizeof *a);
    if (!a) return problem_say(why, TC_ERR_MEMORY);
    const struct audit_job job = {
        .name = shown, .rig = rig, .unit = settings.levels == TC_LEVELS_8BIT ? AUDIT_8BIT : AUDIT_PERCENT,
        .limit = settings.flash_limit, .loop = settings.loop, .watch = watch,
    };
    status = audit_run(&job, text, size, a, why);
    bool wrong = !a->rows || !a->ends_dark;
    for (int topic = 0; topic < AUDIT_TOPICS; topic++) wrong = wrong || a->counts[topic];
    if (status == TC_OK && wrong) status = refuse_table(a, shown, why);
    else if (status == TC_OK && (status = report(rig, &a->flash, &a->load, out)) != TC_OK) problem_say(why, status);
    audit_clear(a);
    memory_free(a);
    return status;
}

void tc_check_clear(struct tc_check *c)
{
    memory_free(c->circuits);
    memset(c, 0, sizeof *c);
}
