#include "hearing/peaks.h"

#include <stdlib.h>

#include "words/memory.h"

enum { ALONE = 17 };            /* one crack within this many steps, to each side */

#define FIRST_SHARE   0.7f    /* of two attacks the first counts if it has this share of the score ... */
#define FIRST_UNDER_DB 3.0f   /* ... and is at most this much softer */

/* Strongest first; of equals the earlier. */
static int by_score(const void *left, const void *right)
{
    const struct peak *a = left, *b = right;
    if (a->score > b->score || a->score < b->score) return a->score > b->score ? -1 : 1;
    return (a->step > b->step) - (a->step < b->step);
}

static int by_step(const void *left, const void *right)
{
    const struct peak *a = left, *b = right;
    return (a->step > b->step) - (a->step < b->step);
}

/* A peak lies PEAK_FINE steps from the next, so a few to each side are all there are. */
enum { NEIGHBOURS = ALONE / PEAK_FINE + 1 };

/* Takes away what lies near peak `around`, but not `stays`. */
static void take_near(const struct peak *found, size_t count, size_t around, size_t stays, char *gone)
{
    size_t from = around > NEIGHBOURS ? around - NEIGHBOURS : 0, to = around + NEIGHBOURS;
    for (size_t i = from; i <= to && i < count; i++) {
        int64_t away = found[i].step - found[around].step;
        if (i != stays && away >= -ALONE && away <= ALONE) gone[i] = 1;
    }
}

/* Of the peaks just before this one that nobody took yet, the first that is
 * about as strong and about as loud: where the ear, and the eye, see the attack
 * begin. A soft one before a loud one is none. */
static size_t first_of(const struct peak *found, size_t at, const char *gone)
{
    const struct peak *strong = &found[at];
    for (size_t i = at > NEIGHBOURS ? at - NEIGHBOURS : 0; i < at; i++) {
        const struct peak *p = &found[i];
        if (!gone[i] && p->step >= strong->step - ALONE && p->score >= FIRST_SHARE * strong->score &&
            p->db >= strong->db - FIRST_UNDER_DB) return i;
    }
    return at;
}

enum tc_status peaks_thin(struct peak *found, size_t *count)
{
    size_t n = *count;
    struct peak *order = memory_new(n + 1, sizeof *order);
    char *gone = memory_new(n + 1, 1);
    if (!order || !gone) {
        memory_free(order);
        memory_free(gone);
        return TC_ERR_MEMORY;
    }
    qsort(found, n, sizeof *found, by_step);
    for (size_t i = 0; i < n; i++) order[i] = (struct peak){ .step = (int64_t)i, .score = found[i].score };
    qsort(order, n, sizeof *order, by_score);
    for (size_t k = 0; k < n; k++) {
        size_t at = (size_t)order[k].step;
        if (gone[at]) continue;
        size_t first = first_of(found, at, gone);
        found[at].crack.at_ms = found[first].crack.at_ms;
        take_near(found, n, first, at, gone);
        take_near(found, n, at, at, gone);
    }
    *count = 0;
    for (size_t i = 0; i < n; i++)
        if (!gone[i]) found[(*count)++] = found[i];
    memory_free(order);
    memory_free(gone);
    return TC_OK;
}
