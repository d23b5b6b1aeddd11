#include "app/night/night_join.h"

#include <math.h>
#include <stdlib.h>

#include "words/memory.h"
#include "words/units.h"

static void join_events(struct tc_analysis *all, const struct tc_analysis *one, const struct night_turn *t)
{
    for (size_t i = 0; i < one->event_count; i++) {
        struct tc_event e = one->events[i];
        e.start_ms += t->start_ms;
        e.end_ms += t->start_ms;
        e.peak_ms += t->start_ms;
        if (e.start_ms >= t->end_ms) continue;
        if (e.end_ms > t->end_ms) e.end_ms = t->end_ms;
        if (e.peak_ms > t->end_ms) e.peak_ms = t->end_ms;
        e.level_dbfs += (float)t->gain_db;
        all->events[all->event_count++] = e;
    }
    for (size_t i = 0; i < one->candidate_count; i++) {
        struct tc_candidate c = one->candidates[i];
        c.at_ms += t->start_ms;
        if (c.at_ms >= t->end_ms) continue;
        c.level_dbfs += (float)t->gain_db;
        all->candidates[all->candidate_count++] = c;
    }
}

/* What sounds together adds up in power. Levels are in half decibels, 0 is silence. */
static uint8_t together(int one, int other)
{
    if (!one || !other) return (uint8_t)(one ? one : other);
    double level = 20 * log10(pow(10, one / 20.0) + pow(10, other / 20.0));
    return (uint8_t)(level > 255 ? 255 : level + 0.5);
}

static void join_envelope(struct tc_analysis *all, const struct tc_analysis *one, const struct night_turn *t)
{
    size_t from = (size_t)frame_at(t->start_ms, all->frame_rate), to = (size_t)frame_at(t->end_ms, all->frame_rate);
    int more = (int)floor(2 * t->gain_db + 0.5);
    for (size_t f = 0; f < one->envelope_count && from + f <= to && from + f < all->envelope_count; f++) {
        int level = one->envelope[f] ? one->envelope[f] + more : 0;
        all->envelope[from + f] = together(all->envelope[from + f], level < 0 ? 0 : level > 255 ? 255 : level);
    }
}

static int events_in_order(const void *left, const void *right)
{
    const struct tc_event *a = left, *b = right;
    if (a->start_ms != b->start_ms) return a->start_ms < b->start_ms ? -1 : 1;
    if (a->kind != b->kind) return a->kind < b->kind ? -1 : 1;
    if (a->end_ms != b->end_ms) return a->end_ms < b->end_ms ? -1 : 1;
    return (a->strength < b->strength) - (a->strength > b->strength);
}

static int candidates_in_order(const void *left, const void *right)
{
    const struct tc_candidate *a = left, *b = right;
    if (a->at_ms != b->at_ms) return a->at_ms < b->at_ms ? -1 : 1;
    return (a->found_at > b->found_at) - (a->found_at < b->found_at);
}

enum tc_status night_join(const struct night_outcome *o, const struct tc_settings *s, double rate,
                          struct tc_analysis *all)
{
    size_t events = 0, candidates = 0;
    for (size_t i = 0; i < o->plan.count; i++) {
        const struct tc_analysis *one = &o->recordings[o->plan.turns[i].clip].heard;
        events += one->event_count;
        candidates += one->candidate_count;
    }
    int64_t length = night_plan_end(&o->plan);
    *all = (struct tc_analysis){ .length_ms = length, .sample_rate = rate, .channels = 2, .frame_rate = s->frame_rate,
                                 .sensitivity = s->sensitivity,
                                 .envelope_count = (size_t)(length * s->frame_rate / 1000 + 1) };
    all->events = memory_new(events + 1, sizeof *all->events);
    all->candidates = memory_new(candidates + 1, sizeof *all->candidates);
    all->envelope = memory_new(all->envelope_count, 1);
    if (!all->events || !all->candidates || !all->envelope) {
        tc_analysis_clear(all);
        return TC_ERR_MEMORY;
    }
    for (size_t i = 0; i < o->plan.count; i++) {
        const struct tc_analysis *one = &o->recordings[o->plan.turns[i].clip].heard;
        join_events(all, one, &o->plan.turns[i]);
        join_envelope(all, one, &o->plan.turns[i]);
        all->bad_samples += one->bad_samples;
    }
    /* Where clips overlap, moments of both come in turn. */
    qsort(all->events, all->event_count, sizeof *all->events, events_in_order);
    qsort(all->candidates, all->candidate_count, sizeof *all->candidates, candidates_in_order);
    return TC_OK;
}
