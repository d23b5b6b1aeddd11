#include "marks/events_take.h"

#include "words/memory.h"
#include "words/status.h"

enum tc_status marks_take(const struct marks *m, struct tc_analysis *a, size_t *left_out)
{
    bool recorded = a->sample_rate > 0;
    int64_t end_ms = recorded ? a->length_ms : INT64_MAX;
    struct tc_event *events = memory_new(m->count + 1, sizeof *events);
    if (!events) return TC_ERR_MEMORY;
    size_t kept = 0;
    for (size_t i = 0; i < m->count; i++) {
        struct tc_event e = m->labels[i].event;
        if (e.start_ms >= end_ms) continue;
        if (e.end_ms > end_ms) e.end_ms = end_ms;
        if (e.peak_ms > end_ms) e.peak_ms = end_ms;
        events[kept++] = e;
    }
    memory_free(a->events);
    a->events = events;
    a->event_count = kept;
    if (m->sensitivity >= 0 || !recorded) a->sensitivity = m->sensitivity; /* tells what was deleted */
    if (left_out) *left_out = m->count - kept;
    return TC_OK;
}

enum tc_status tc_events_read(const char *text, size_t size, const char *shown, struct tc_analysis *a,
                              size_t *left_out, struct tc_problem *why)
{
    struct marks m;
    enum tc_status status = marks_read(text, size, shown, &m, why);
    if (status == TC_OK && (status = marks_take(&m, a, left_out)) != TC_OK)
        problem_say(why, status);
    marks_clear(&m);
    return status;
}
