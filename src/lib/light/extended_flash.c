#include "light/extended_flash.h"

#include <string.h>

#include "words/units.h"

#define EXTENDED_WITHIN_US (5 * SECOND_US)
#define EXTENDED_LENGTH_US (4 * SECOND_US)
enum { EXTENDED_TRANSITIONS = 4 };

/* Forgets stretches that lie wholly before the last 5 s. */
static void forget(struct extended_flash *e, int64_t before_us)
{
    size_t gone = 0;
    while (gone < e->busy_count && e->busy[gone].to_us <= before_us) gone++;
    if (gone == 0 && e->busy_count == STRETCH_MOST) gone = 1;
    e->busy_count -= gone;
    memmove(e->busy, e->busy + gone, e->busy_count * sizeof *e->busy);
}

void extended_flash_pass(struct extended_flash *e, int64_t last_us, int64_t at_us)
{
    if (e->was_extended) e->extended_us += at_us - last_us;
    if (!e->was_busy) return;
    if (e->busy_count && e->busy[e->busy_count - 1].to_us == last_us) {
        e->busy[e->busy_count - 1].to_us = at_us;
        return;
    }
    if (e->busy_count == STRETCH_MOST) forget(e, at_us - EXTENDED_WITHIN_US);
    e->busy[e->busy_count++] = (struct stretch){ last_us, at_us };
}

static bool is_extended(struct extended_flash *e, int64_t at_us, int64_t step_us)
{
    int64_t from = at_us + step_us - EXTENDED_WITHIN_US, sum = step_us;
    forget(e, from);
    for (size_t i = 0; i < e->busy_count; i++) {
        const struct stretch *b = &e->busy[i];
        sum += b->to_us - (b->from_us > from ? b->from_us : from);
    }
    return sum >= EXTENDED_LENGTH_US;
}

void extended_flash_judge(struct extended_flash *e, int transitions, int64_t at_us, int64_t step_us)
{
    e->was_busy = transitions >= EXTENDED_TRANSITIONS;
    e->was_extended = e->was_busy && is_extended(e, at_us, step_us);
}

int64_t extended_flash_us(const struct extended_flash *e, int64_t step_us)
{
    return e->extended_us + (e->was_extended ? step_us : 0);
}
