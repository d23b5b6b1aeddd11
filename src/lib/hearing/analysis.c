/* What can be done with a finished analysis. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "words/memory.h"
#include "words/model.h"

void tc_analysis_clear(struct tc_analysis *a)
{
    memory_free(a->events);
    memory_free(a->candidates);
    memory_free(a->envelope);
    memory_free(a->overview);
    memset(a, 0, sizeof *a);
}

/* By start; a crack stands before a rumble that starts with it. */
static int by_start(const void *left, const void *right)
{
    const struct tc_event *a = left, *b = right;
    if (a->start_ms != b->start_ms) return a->start_ms < b->start_ms ? -1 : 1;
    if (a->kind != b->kind) return (int)a->kind - (int)b->kind;
    if (a->end_ms != b->end_ms) return a->end_ms < b->end_ms ? -1 : 1;
    return (a->strength < b->strength) - (a->strength > b->strength); /* no order left to qsort */
}

static float hundredth(float x)
{
    x = x < 0 ? 0 : x > 1 ? 1 : x;
    return floorf(100.0f * x + 0.5f) / 100.0f;
}

enum tc_status tc_analysis_choose(struct tc_analysis *a, double sensitivity)
{
    size_t rumbles = 0, cracks = 0;
    float loudest = 0;
    if (!(sensitivity >= 0 && sensitivity <= 100)) return TC_ERR_USAGE;
    for (size_t i = 0; i < a->event_count; i++) rumbles += a->events[i].kind == TC_RUMBLE;
    for (size_t i = 0; i < a->candidate_count; i++) {
        const struct tc_candidate *c = &a->candidates[i];
        if ((double)c->found_at > sensitivity) continue;
        cracks++;
        loudest = fmaxf(loudest, c->loudness);
    }

    struct tc_event *events = memory_new(rumbles + cracks + 1, sizeof *events);
    if (!events) return TC_ERR_MEMORY;
    size_t n = 0;
    for (size_t i = 0; i < a->candidate_count; i++) {
        const struct tc_candidate *c = &a->candidates[i];
        if ((double)c->found_at > sensitivity) continue;
        events[n++] = (struct tc_event){
            .kind = TC_CRACK,
            .start_ms = c->at_ms, .end_ms = c->at_ms, .peak_ms = c->at_ms,
            .strength = hundredth(loudest > 0 ? c->loudness / loudest : 0),
            .sharpness = hundredth(c->sharpness),
            .level_dbfs = c->level_dbfs,
        };
    }
    for (size_t i = 0; i < a->event_count; i++) {
        if (a->events[i].kind != TC_RUMBLE) continue;
        events[n] = a->events[i];
        events[n].strength = hundredth(events[n].strength);
        events[n].sharpness = hundredth(events[n].sharpness);
        n++;
    }
    qsort(events, n, sizeof *events, by_start);
    memory_free(a->events);
    a->events = events;
    a->event_count = n;
    a->sensitivity = sensitivity;
    return TC_OK;
}
