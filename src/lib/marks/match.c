#include "marks/match.h"

#include <math.h>

#include "words/memory.h"

/* Times are decimals; their binary forms may differ from them by this much. */
#define ROUNDING_S 1e-9

/* Pairs of one kind of label need not cross each other: uncrossing two keeps
 * both within the tolerance and adds no error. Pairs of different kinds may
 * have to. So the way through the estimates is known by how far each of the two
 * lists is used up, and both places lie near the estimate. */
struct reach {
    size_t required, required_end; /* those within the tolerance */
    size_t doubtful, doubtful_end;
    size_t doubtful_used;          /* as far as can be used up before; may be past the end */
    size_t first;                  /* of its choices */
};

/* What a way brings; errors in ns, so that their sum doesn't depend on the order. */
struct worth {
    size_t hits;
    int64_t error_ns;
    size_t forgiven;
};

enum choice { PAIR, SKIP, LEAVE }; /* with the next required label; not with that label; with none that is required */

static bool better(const struct worth *a, const struct worth *b)
{
    if (a->hits != b->hits) return a->hits > b->hits;
    if (a->error_ns != b->error_ns) return a->error_ns < b->error_ns;
    return a->forgiven > b->forgiven;
}

static void reach_on(struct match_list labels, double estimate, double tolerance, size_t *first, size_t *end)
{
    while (*first < labels.count && estimate - labels.at[*first] > tolerance + ROUNDING_S) ++*first;
    if (*end < *first) *end = *first;
    while (*end < labels.count && labels.at[*end] - estimate <= tolerance + ROUNDING_S) ++*end;
}

static size_t width(const struct reach *at)
{
    return at->doubtful_used - at->doubtful + 1;
}

static size_t states(const struct reach *at)
{
    return (at->required_end - at->required + 1) * width(at);
}

/* Fills one reach an estimate, and one behind the last, all choices' count in its `first`. Returns the most states. */
static size_t find_reaches(struct match_list required, struct match_list doubtful, struct match_list estimate,
                           double tolerance, struct reach *reach)
{
    struct reach at = { 0 };
    size_t most = 1;
    for (size_t e = 0; e < estimate.count; e++) {
        reach_on(required, estimate.at[e], tolerance, &at.required, &at.required_end);
        reach_on(doubtful, estimate.at[e], tolerance, &at.doubtful, &at.doubtful_end);
        if (at.doubtful_used < at.doubtful) at.doubtful_used = at.doubtful;
        reach[e] = at;
        if (states(&at) > most) most = states(&at);
        at.first += states(&at);
        at.doubtful_used += at.doubtful_used < at.doubtful_end;
    }
    at.required = at.required_end;
    at.doubtful = at.doubtful_used;
    reach[estimate.count] = at;
    return most;
}

/* Where among an estimate's states: `required` and `doubtful` labels are used up,
 * or out of reach. */
static size_t state(const struct reach *at, size_t required, size_t doubtful)
{
    size_t r = required > at->required ? required - at->required : 0;
    size_t d = doubtful > at->doubtful ? doubtful - at->doubtful : 0;
    return r * width(at) + d;
}

/* Chooses for one estimate, whatever was chosen before, from what the next is worth. */
static void choose(const struct reach *at, struct match_list required, double estimate, const struct worth *next,
                   struct worth *here, unsigned char *choices)
{
    for (size_t r = at->required_end + 1; r-- > at->required;) {
        for (size_t d = at->doubtful; d <= at->doubtful_used; d++) {
            size_t s = state(at, r, d), forgiven = d < at->doubtful_end;
            struct worth worth = next[state(at + 1, r, d + forgiven)];
            worth.forgiven += forgiven;
            choices[s] = LEAVE;
            if (r < at->required_end) {
                struct worth paired = next[state(at + 1, r + 1, d)], skipped = here[state(at, r + 1, d)];
                paired.hits++;
                paired.error_ns += llround(fabs(estimate - required.at[r]) * 1e9);
                if (!better(&worth, &paired)) {
                    worth = paired;
                    choices[s] = PAIR;
                }
                if (better(&skipped, &worth)) {
                    worth = skipped;
                    choices[s] = SKIP;
                }
            }
            here[s] = worth;
        }
    }
}

static void follow(const struct reach *reach, const unsigned char *choices, size_t required, size_t estimates, size_t *partner)
{
    size_t r = 0, d = 0;
    for (size_t e = 0; e < estimates; e++) {
        const struct reach *at = &reach[e];
        if (r < at->required) r = at->required;
        if (d < at->doubtful) d = at->doubtful;
        while (choices[at->first + state(at, r, d)] == SKIP) r++;
        if (choices[at->first + state(at, r, d)] == PAIR) partner[e] = r++;
        else if (d < at->doubtful_end) partner[e] = required + d++;
        else partner[e] = MATCH_NONE;
    }
}

enum tc_status match_times(struct match_list required, struct match_list doubtful, struct match_list estimate,
                           double tolerance, size_t *partner)
{
    enum tc_status status = TC_ERR_MEMORY;
    unsigned char *choices = NULL;
    struct worth *here = NULL, *next = NULL;
    struct reach *reach = memory_new(estimate.count + 1, sizeof *reach);
    if (!reach) return TC_ERR_MEMORY;
    size_t most = find_reaches(required, doubtful, estimate, tolerance, reach);
    choices = memory_new(reach[estimate.count].first + 1, 1);
    here = memory_new(most, sizeof *here);
    next = memory_new(most, sizeof *next);
    if (!choices || !here || !next) goto done;
    for (size_t e = estimate.count; e-- > 0;) {
        choose(&reach[e], required, estimate.at[e], next, here, choices + reach[e].first);
        struct worth *swap = next;
        next = here;
        here = swap;
    }
    follow(reach, choices, required.count, estimate.count, partner);
    status = TC_OK;
done:
    memory_free(reach);
    memory_free(choices);
    memory_free(here);
    memory_free(next);
    return status;
}
