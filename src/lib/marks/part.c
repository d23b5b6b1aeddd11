#include "marks/part.h"

static int64_t sooner(int64_t a, int64_t b)
{
    return a < b ? a : b;
}

static int64_t later(int64_t a, int64_t b)
{
    return a > b ? a : b;
}

static bool within(struct part part, int64_t at_ms)
{
    return at_ms >= part.from_ms && at_ms < part.to_ms;
}

/* False if nothing of it lies within. */
static bool cut(struct part part, struct tc_event *e)
{
    if (e->kind == TC_CRACK) return within(part, e->start_ms);
    if (e->end_ms <= part.from_ms || e->start_ms >= part.to_ms) return false;
    e->start_ms = later(e->start_ms, part.from_ms);
    e->end_ms = sooner(e->end_ms, part.to_ms);
    e->peak_ms = sooner(later(e->peak_ms, e->start_ms), e->end_ms);
    return true;
}

void part_of_analysis(struct part part, struct tc_analysis *a)
{
    size_t kept = 0;
    for (size_t i = 0; i < a->event_count; i++)
        if (cut(part, &a->events[i])) a->events[kept++] = a->events[i];
    a->event_count = kept;
    kept = 0;
    for (size_t i = 0; i < a->candidate_count; i++)
        if (within(part, a->candidates[i].at_ms)) a->candidates[kept++] = a->candidates[i];
    a->candidate_count = kept;
}

/* They stay in order: only rumbles that begin before the part move, to its beginning. */
void part_of_marks(struct part part, struct marks *m)
{
    size_t kept = 0;
    for (size_t i = 0; i < m->count; i++)
        if (cut(part, &m->labels[i].event)) m->labels[kept++] = m->labels[i];
    m->count = kept;
}

int64_t part_length_ms(struct part part, int64_t length_ms)
{
    return later(0, sooner(part.to_ms, length_ms) - sooner(part.from_ms, length_ms));
}
