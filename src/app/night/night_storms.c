#include "app/night/night_storms.h"

#include "app/night/night_hear.h"

bool night_storm_next(const struct night_outcome *o, struct night_storm *s)
{
    const struct night_plan *p = &o->plan;
    size_t first = s->first + s->count;
    if (first >= p->count) return false;
    const struct night_turn *turns = &p->turns[first];
    int most = -1;
    *s = (struct night_storm){ .first = first, .number = turns[0].storm, .start_ms = turns[0].start_ms };
    for (; first + s->count < p->count && turns[s->count].storm == s->number; s->count++) {
        const struct night_turn *t = &turns[s->count];
        int nearness = night_nearness(&o->recordings[t->clip].heard);
        if (nearness > most) most = nearness, s->nearest = t;
        if (t->end_ms > s->end_ms) s->end_ms = t->end_ms;
        if (!s->number) {
            s->count++;
            break;
        }
    }
    return true;
}

size_t night_idle(const struct night_outcome *o)
{
    size_t idle = 0;
    for (size_t c = 0; c < o->recording_count - o->left_out; c++) { /* those that were heard come first */
        size_t i = 0;
        while (i < o->plan.count && o->plan.turns[i].clip != c) i++;
        idle += i == o->plan.count;
    }
    return idle;
}

struct night_sounding night_sounding(const struct night_plan *p)
{
    struct night_sounding sum = { 0 };
    int64_t until = 0;
    for (size_t i = 0; i < p->count; i++) {
        const struct night_turn *t = &p->turns[i];
        int64_t from = t->start_ms > until ? t->start_ms : until;
        if (t->start_ms - until > sum.silence_ms) sum.silence_ms = t->start_ms - until;
        if (t->end_ms > from) sum.sounding_ms += t->end_ms - from;
        if (t->end_ms > until) until = t->end_ms;
    }
    return sum;
}
