/* A timeline looked at as a whole: how it flashes and what it draws. Played and
 * counted by the same code that audits a frames.csv. */
#include <string.h>

#include "light/flash_count.h"
#include "rig/load.h"
#include "words/memory.h"
#include "words/settings.h"
#include "words/units.h"
#include "words/watch.h"

/* So many light frames between two looks at the watch, at least. */
enum { FRAMES_APART = 1024, TOLD = 200 };

struct checking {
    struct tc_settings settings;
    const struct tc_timeline *timeline;
    const struct tc_rig *rig;
    struct flash_counter *flash;
    struct load_meter *load;
    uint16_t *levels;
};

static enum tc_status checking_open(struct checking *w, const struct tc_settings *s)
{
    enum tc_status status = settings_take(&w->settings, s, NULL);
    if (status != TC_OK) return status;
    if (w->timeline->frame_rate != w->settings.frame_rate) return TC_ERR_USAGE;
    uint16_t full = level_full(w->settings.levels);
    w->levels = memory_new(w->rig->channel_count + 1, sizeof *w->levels);
    if (!w->levels) return TC_ERR_MEMORY;
    status = flash_counter_create(&w->flash, w->rig, full, w->settings.flash_limit);
    return status == TC_OK ? load_meter_create(&w->load, w->rig, full) : status;
}

static void checking_close(struct checking *w)
{
    flash_counter_destroy(w->flash);
    load_meter_destroy(w->load);
    memory_free(w->levels);
}

/* Plays the timeline from its first light frame and counts up to `until`;
 * `frame` is where that is in a show that may have gone round already. */
static enum tc_status play_through(struct checking *w, int64_t *frame, int64_t until, const struct tc_watch *watch)
{
    struct tc_player *player;
    int64_t rate = w->settings.frame_rate, start_ms = seconds_ms(w->settings.shift_s);
    int64_t frames = w->timeline->frames, apart = frames / TOLD > FRAMES_APART ? frames / TOLD : FRAMES_APART;
    enum tc_status status = tc_player_create(&player, w->timeline, w->rig, &w->settings);
    if (status != TC_OK) return status;
    for (; status == TC_OK && *frame < until && tc_player_step(player, w->levels); ++*frame) {
        flash_counter_step(w->flash, w->levels, 1000 * start_ms + frame_us(*frame, rate));
        if (*frame >= frames) continue; /* the seam of a loop: only flashes count there */
        load_meter_step(w->load, w->levels, start_ms + frame_ms(*frame, rate));
        if (*frame % apart == 0) status = watch_tell(watch, (double)*frame / (double)frames);
    }
    tc_player_destroy(player);
    return status;
}

static enum tc_status report(struct checking *w, struct tc_check *out)
{
    struct flash_report flash;
    struct load_report load;
    flash_counter_report(w->flash, &flash);
    load_meter_report(w->load, &load);
    *out = (struct tc_check){
        .too_fast = flash.limit && flash.peak_transitions > 2 * flash.limit,
        .peak_transitions = flash.peak_transitions, .peak_at_ms = flash.peak_at_ms,
        .transitions = flash.transitions, .extended_ms = flash.extended_ms,
        .lit_share = load.lit_share, .longest_dark_ms = load.longest_dark_ms,
        .all = { load.rig.all_on_w, load.rig.reached_w, load.rig.reached_at_ms },
    };
    memcpy(out->peak_series, flash.peak_series, sizeof out->peak_series);
    out->circuits = memory_new(w->rig->circuit_count + 1, sizeof *out->circuits);
    for (size_t i = 0; out->circuits && i < w->rig->circuit_count; i++) {
        const struct load_row *row = &load.circuits[i];
        out->circuits[i] = (struct tc_load){ row->all_on_w, row->reached_w, row->reached_at_ms };
        out->over_breaker += row->all_on_w > circuit_advice_w(&w->rig->circuits[i]);
    }
    load_report_clear(&load);
    return out->circuits ? TC_OK : TC_ERR_MEMORY;
}

enum tc_status tc_check_run(const struct tc_timeline *t, const struct tc_rig *rig, const struct tc_settings *s,
                            const struct tc_watch *watch, struct tc_check *out)
{
    struct checking w = { .timeline = t, .rig = rig };
    int64_t frame = 0;
    memset(out, 0, sizeof *out);
    enum tc_status status = checking_open(&w, s);
    if (status == TC_OK) status = play_through(&w, &frame, t->frames, watch);
    /* A timeline that repeats goes on with its own beginning, for more than a second. */
    int64_t until = frame + (w.settings.loop ? w.settings.frame_rate + 1 : 0);
    while (status == TC_OK && t->frames > 0 && frame < until) status = play_through(&w, &frame, until, NULL);
    if (status == TC_OK) status = watch_tell(watch, 1);
    if (status == TC_OK) status = report(&w, out);
    checking_close(&w);
    return status;
}

void tc_check_clear(struct tc_check *c)
{
    memory_free(c->circuits);
    memset(c, 0, sizeof *c);
}
