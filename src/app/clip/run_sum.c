#include "app/clip/run_sum.h"

#include "app/report/channel_list.h"
#include "io/process/stop.h"
#include "light/reached.h"
#include "words/memory.h"
#include "words/status.h"
#include "words/units.h"

/* Cracks that the flash limit leaves nearly dark: they are no strokes that
 * anybody sees. */
static enum tc_status count_held_back(struct run *r, const struct shown *shown)
{
    if (!shown->flash.softened) return TC_OK;
    uint32_t *which;
    enum tc_status status = cracks_held_back(&r->timeline, r->heard.events, r->rig, r->settings, stop_of_calls(),
                                             &which,
                                             &r->out->cracks_held_back);
    r->out->strokes -= r->out->cracks_held_back;
    memory_free(which);
    return status == TC_OK ? TC_OK : problem_say(r->why, status);
}

static bool is_background(const struct tc_pulse *p)
{
    return !p->fall && p->hold == 1 && (p->peak || p->glow);
}

/* Rumbles in which no ramp of the floods has any light. Ramps stand as they begin. */
static size_t count_soft_rumbles(const struct run *r)
{
    const struct tc_timeline *t = &r->timeline;
    int64_t lead_ms = (int64_t)r->settings->lead_ms;
    size_t soft = 0, p = 0;
    for (size_t i = 0; i < r->heard.event_count; i++) {
        const struct tc_event *e = &r->heard.events[i];
        if (e->kind != TC_RUMBLE) continue;
        int64_t from = frame_at(e->start_ms - lead_ms, t->frame_rate),
            to = frame_at(e->end_ms - lead_ms, t->frame_rate);
        while (p < t->pulse_count && (!is_background(&t->pulses[p]) || (int64_t)t->pulses[p].frame < from)) p++;
        soft += p == t->pulse_count || (int64_t)t->pulses[p].frame - t->pulses[p].rise > to;
    }
    return soft;
}

/* Cracks for which the branches stay dark, in a rig that has floods for them. */
static size_t count_far_cracks(const struct run *r)
{
    size_t floods = 0, far = 0;
    for (size_t i = 0; i < r->rig->channel_count; i++) floods += r->rig->channels[i].kind == TC_FLOOD;
    for (size_t i = 0; floods && i < r->heard.event_count; i++) {
        const struct tc_event *e = &r->heard.events[i];
        far += e->kind == TC_CRACK && (double)e->sharpness <= r->settings->far_sharpness + 0.001;
    }
    return floods == r->rig->channel_count ? 0 : far;
}

enum tc_status run_sum_up(struct run *r, struct shown *shown)
{
    struct outcome *o = r->out;
    o->length_ms = r->heard.length_ms;
    o->sample_rate = r->heard.sample_rate;
    o->channels = r->heard.channels;
    o->frames = r->timeline.frames;
    for (size_t i = 0; i < r->heard.event_count; i++)
        r->heard.events[i].kind == TC_CRACK ? o->cracks++ : o->rumbles++;
    o->strokes = r->timeline.stroke_count;
    o->dropped = r->timeline.dropped;
    o->far_cracks = count_far_cracks(r);
    o->soft_rumbles = r->settings->rumble_light > 0 ? count_soft_rumbles(r) : 0;
    for (size_t i = 0; i < r->timeline.stroke_count; i++) {
        const struct tc_stroke *stroke = &r->timeline.strokes[i];
        o->glimmers += r->heard.events[stroke->event].kind == TC_RUMBLE;
        if (!stroke->order) continue;
        stroke->heard ? o->restrikes_heard++ : o->restrikes_drawn++;
    }
    o->never_lit = channel_list(o->never_lit_list, sizeof o->never_lit_list, r->rig, shown->lit, false);
    o->brightest = shown->brightest;
    o->brightest_at_ms = shown->brightest_at_ms;
    o->flash = shown->flash;
    o->load = shown->load;
    shown->load = (struct load_report){ .channels = NULL }; /* the outcome has it now */
    return count_held_back(r, shown);
}
