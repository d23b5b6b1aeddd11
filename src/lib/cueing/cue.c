/* The cueing stage: events, rig and settings make a timeline of pulses. */
#include <math.h>
#include <string.h>

#include "cueing/crack.h"
#include "cueing/draft.h"
#include "cueing/rumble_light.h"
#include "cueing/thin.h"
#include "rig/rig_check.h"
#include "words/memory.h"
#include "words/model.h"
#include "words/settings.h"
#include "words/status.h"
#include "words/units.h"
#include "words/watch.h"

/* How often the caller is told how far it is, and asked whether to stop. */
enum { TOLD = 100 };

/* ---- The recording ---- */

/* This many cracks in one light frame are more than anybody means. */
enum { FRAME_CRACKS_MOST = 64 };

/* The cracks of one light frame. */
struct crowd {
    uint32_t frame;
    size_t count;
    float strongest;
};

/* True if a crack adds nothing to the many that are in its light frame: the
 * strongest so far always counts, and as strength has steps of 0.01, few more do. */
static bool crowded(struct crowd *c, const struct tc_event *e, uint32_t frame)
{
    if (!c->count || c->frame != frame) *c = (struct crowd){ .frame = frame };
    bool stronger = !c->count || e->strength > c->strongest;
    if (stronger) c->strongest = e->strength;
    return c->count++ >= FRAME_CRACKS_MOST && !stronger;
}

static enum tc_status cue_events(struct draft *d, struct rumble_walk *rumbles, const struct tc_watch *watch)
{
    const struct tc_analysis *a = d->heard;
    size_t told = a->event_count / TOLD + 1, next = 0;
    struct crowd crowd = { 0 };
    for (size_t i = 0; i < a->event_count && !d->out_of_memory; i++) {
        const struct tc_event *e = &a->events[i];
        if (i % told == 0 && watch_tell(watch, (double)i / (double)a->event_count) != TC_OK) return TC_ERR_STOPPED;
        if (e->kind != TC_CRACK || e->start_ms < d->from_ms || e->start_ms >= d->to_ms) continue;
        /* `next` is the first crack after this one's moment. */
        if (next <= i) next = i + 1;
        while (next < a->event_count && (a->events[next].kind != TC_CRACK || a->events[next].start_ms <= e->start_ms))
            next++;
        if (crowded(&crowd, e, draft_frame(d, e->start_ms, 0))) continue;
        rumble_walk_until(rumbles, d, draft_frame(d, e->start_ms, 0));
        crack_cue(d, i, next < a->event_count ? a->events[next].start_ms : INT64_MAX);
    }
    rumble_walk_until(rumbles, d, UINT32_MAX);
    draft_finish(d);
    return watch_tell(watch, 1);
}

/* Rows from 0 to the end of the recording, and of what was added by hand. */
static uint32_t frames_of(const struct tc_analysis *a, int64_t rate)
{
    int64_t length = a->length_ms;
    for (size_t i = 0; i < a->event_count; i++) {
        const struct tc_event *e = &a->events[i];
        int64_t over = e->kind == TC_CRACK ? e->start_ms + 1 : e->end_ms;
        if (over > a->length_ms && over + TAIL_MS > length) length = over + TAIL_MS;
    }
    return (uint32_t)((length * rate + 999) / 1000 + 1);
}

enum tc_status tc_cue(const struct tc_analysis *a, const struct tc_rig *rig,
                      const struct tc_settings *settings, const struct tc_watch *watch,
                      struct tc_timeline *out, struct tc_problem *why)
{
    struct tc_settings s;
    memset(out, 0, sizeof *out);
    enum tc_status status = settings_take(&s, settings, why);
    if (status != TC_OK) return status;
    status = rig_check(rig, why);
    if (status != TC_OK) return status;
    if (a->frame_rate && a->frame_rate != s.frame_rate)
        return problem_set(why, TC_ERR_USAGE,
                           "frame_rate %lld: the recording was listened to at %lld light "
                           "frames a second; cue at that rate, or listen again",
                           (long long)s.frame_rate, (long long)a->frame_rate);
    out->frame_rate = s.frame_rate;
    out->frames = frames_of(a, s.frame_rate);
    struct draft d = {
        .heard = a, .settings = &s, .out = out,
        .key = (uint64_t)s.seed ^ (uint64_t)(a->sample_rate > 0 ? a->length_ms : 0),
        .from_ms = seconds_ms(s.from_s),
        .to_ms = s.to_s > 0 ? seconds_ms(s.to_s) : INT64_MAX,
    };
    struct rumble_walk *rumbles = NULL;
    status = paths_create(&d.paths, rig);
    if (status == TC_OK) status = rumble_walk_create(&rumbles, &d);
    if (status == TC_OK) status = cue_events(&d, rumbles, watch);
    if (d.out_of_memory) status = TC_ERR_MEMORY;
    if (status == TC_OK) status = thin_strokes(out, rig, &s, watch);
    rumble_walk_destroy(rumbles);
    paths_clear(&d.paths);
    if (status == TC_OK) return TC_OK;
    tc_timeline_clear(out);
    return problem_say(why, status);
}

void tc_timeline_clear(struct tc_timeline *t)
{
    memory_free(t->strokes);
    memory_free(t->pulses);
    memset(t, 0, sizeof *t);
}
