#include "cueing/flash_draw.h"

#include <math.h>

int flash_draw(struct randomiser *r, const struct tc_settings *s, int forced,
               struct flash_stroke strokes[FLASH_STROKES_MOST])
{
    int drawn = random_geometric(r, s->stroke_stop, FLASH_STROKES_MOST);
    int count = forced > 0 ? forced : drawn;
    if (count > FLASH_STROKES_MOST) count = FLASH_STROKES_MOST;
    strokes[0] = (struct flash_stroke){ 0, 1, true };
    for (int i = 1; i < count; i++) { /* drawn one after the other: the same on every compiler */
        double interval_ms = random_lognormal(r, s->interval_ms, s->interval_decades);
        double light = random_lognormal(r, s->restrike_light, s->restrike_decades);
        strokes[i] = (struct flash_stroke){ .after_ms = strokes[i - 1].after_ms + interval_ms, .light = light };
    }
    return count;
}

/* ---- From the sound ---- */

/* Attacks closer than this to the stroke before are one (the labels of cracks
 * use 100 ms; the shortest natural intervals are about 20 ms, so take between). */
enum { HEARD_APART_MS = 40 };
/* How much fainter an attack may be than a crack at the set sensitivity. */
#define HEARD_MORE_SENSITIVE 30.0
/* Loudness of a candidate goes with the square root of amplitude already. */
#define HEARD_FAINTEST 0.25
#define HEARD_BRIGHTEST 1.0

/* The first candidate at or after a moment. */
static size_t first_candidate(const struct tc_analysis *a, int64_t ms)
{
    size_t low = 0, high = a->candidate_count;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (a->candidates[middle].at_ms < ms) low = middle + 1;
        else high = middle;
    }
    return low;
}

static double least(double a, double b)
{
    return a < b ? a : b;
}

/* Strokes that are heard, in time order; at most `most` with the first. */
static int flash_heard(const struct tc_settings *s, const struct tc_analysis *a, size_t event,
                       int64_t until_ms, int most, struct flash_stroke *strokes)
{
    const struct tc_event *e = &a->events[event];
    int64_t end = e->start_ms + (int64_t)s->heard_ms + 1;
    if (end > until_ms) end = until_ms;
    double first = 0;
    int count = 1;
    for (size_t i = first_candidate(a, e->start_ms); i < a->candidate_count; i++) {
        const struct tc_candidate *c = &a->candidates[i];
        if (c->at_ms >= end) break;
        if (c->at_ms == e->start_ms) first = (double)c->loudness;
        if (c->at_ms < e->start_ms + (int64_t)strokes[count - 1].after_ms + HEARD_APART_MS) continue;
        /* What counts as a crack but is none was deleted by hand. */
        if ((double)c->found_at <= a->sensitivity) continue;
        if ((double)c->found_at > a->sensitivity + HEARD_MORE_SENSITIVE) continue;
        double share = first > 0 ? (double)c->loudness / first
                                 : pow(10, ((double)c->level_dbfs - (double)e->level_dbfs) / 40);
        if (share < HEARD_FAINTEST) continue;
        if (count < most)
            strokes[count++] = (struct flash_stroke){ (double)(c->at_ms - e->start_ms),
                                                      least(share, HEARD_BRIGHTEST), true };
    }
    return count;
}

int flash_plan(struct randomiser *r, const struct tc_settings *s, const struct tc_analysis *a,
               size_t event, int64_t until_ms, struct flash_stroke strokes[FLASH_STROKES_MOST])
{
    const struct tc_event *e = &a->events[event];
    struct flash_stroke heard[FLASH_STROKES_MOST] = { { 0, 1, true } };
    int count = flash_draw(r, s, e->strokes, strokes);
    int most = e->strokes > 0 ? count : FLASH_STROKES_MOST;
    int found = flash_heard(s, a, event, until_ms, most, heard);
    if (found == 1) return count;

    /* What is heard replaces what was drawn; a forced number is filled up with
     * drawn strokes after what is heard. */
    for (int i = found; i < most && e->strokes > 0; i++) {
        heard[i] = strokes[i];
        heard[i].after_ms = heard[i - 1].after_ms + strokes[i].after_ms - strokes[i - 1].after_ms;
    }
    if (e->strokes > 0) found = most;
    for (int i = 0; i < found; i++) strokes[i] = heard[i];
    return found;
}
