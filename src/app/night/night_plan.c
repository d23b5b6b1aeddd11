#include "app/night/night_plan.h"

#include <stdbool.h>
#include <stdlib.h>

#include "words/random.h"

/* A storm has about so many clips. */
enum { STORM_CLIPS = 6 };
/* So often a round is dealt anew if it begins with what has just been heard. */
enum { DEALS_MOST = 64 };
/* Gaps overhead are shorter by this share of the range; those between storms
 * come from its upper end. */
#define OVERHEAD_SHORTER 0.6
#define BETWEEN_LEAST 0.6

enum plan_draw { PLAN_DRAW_ROUND = 1, PLAN_DRAW_GAP };

struct planner {
    const struct night_wish *wish;
    const struct night_clip *clips;
    struct night_plan *plan;
    size_t *round, *storm;         /* clips in the order of this round; room for those of a storm */
    size_t round_count;
    struct randomiser gaps;
    int64_t at_ms, limit_ms;
    int storms;
    bool full;
};

enum tc_status night_plan_add(struct night_plan *p, struct night_turn turn)
{
    if (p->count == p->room) {
        size_t room = p->room ? 2 * p->room : 64;
        struct night_turn *more = realloc(p->turns, room * sizeof *more);
        if (!more) return TC_ERR_MEMORY;
        p->turns = more;
        p->room = room;
    }
    p->turns[p->count++] = turn;
    return TC_OK;
}

/* ---- A round ---- */

static void shuffle(size_t *list, size_t count, struct randomiser *r)
{
    for (size_t i = count; i > 1; i--) {
        size_t k = random_below(r, (uint32_t)i), kept = list[i - 1];
        list[i - 1] = list[k];
        list[k] = kept;
    }
}

static bool is_nearer(const struct planner *p, size_t a, size_t b)
{
    int x = p->clips[a].nearness, y = p->clips[b].nearness;
    return x != y ? x > y : a > b;
}

/* Far, nearer, near, farther, far: of each two that are alike one goes before
 * the middle and one after it. */
static void arrange(struct planner *p, size_t *list, size_t count, struct randomiser *r)
{
    for (size_t i = 1; i < count; i++)
        for (size_t k = i; k > 0 && is_nearer(p, list[k - 1], list[k]); k--) {
            size_t kept = list[k];
            list[k] = list[k - 1];
            list[k - 1] = kept;
        }
    for (size_t i = 0; i < count; i++) p->storm[i] = list[i];
    size_t front = 0, back = count;
    for (size_t i = 0; i < count; i += 2) {
        bool swap = random_below(r, 2);
        if (i + 1 == count) {
            list[front] = p->storm[i];
            break;
        }
        list[front++] = p->storm[i + swap];
        list[--back] = p->storm[i + !swap];
    }
}

static size_t storms_of(size_t clips)
{
    size_t storms = (clips + STORM_CLIPS / 2) / STORM_CLIPS;
    return storms ? storms : 1;
}

static void deal(struct planner *p, uint64_t round, size_t last)
{
    struct randomiser r = random_keyed(p->wish->seed, PLAN_DRAW_ROUND, round);
    size_t n = p->round_count, storms = storms_of(n);
    for (int i = 0; i < DEALS_MOST; i++) {
        shuffle(p->round, n, &r);
        for (size_t s = 0; s < storms; s++) {
            size_t from = s * n / storms, to = (s + 1) * n / storms;
            arrange(p, p->round + from, to - from, &r);
        }
        if (p->round[0] != last) return;
    }
}

/* ---- Gaps ---- */

static int64_t draw_gap(struct planner *p, double least, double most)
{
    const struct night_wish *w = p->wish;
    double share = least + (most - least) * random_uniform(&p->gaps);
    return w->gap_least_ms + (int64_t)(share * (double)(w->gap_most_ms - w->gap_least_ms));
}

static double overhead(size_t i, size_t count)
{
    double from_middle = 2 * (double)i - (double)(count - 1);
    return 1 - (from_middle < 0 ? -from_middle : from_middle) / (double)count;
}

/* ---- Turns ---- */

/* Neither of two clips that overlap loses more than half of itself to that. */
static int64_t within_half(const struct planner *p, int64_t length_ms, int64_t gap_ms)
{
    const struct night_turn *before = &p->plan->turns[p->plan->count - 1];
    int64_t shorter = before->end_ms - before->start_ms < length_ms ? before->end_ms - before->start_ms : length_ms;
    return gap_ms < -(shorter / 2) ? -(shorter / 2) : gap_ms;
}

static bool is_quiet(const struct night_wish *w, int64_t start, int64_t length)
{
    return w->quiet_to_ms > w->quiet_from_ms && start < w->quiet_to_ms && start + length > w->quiet_from_ms;
}

/* Does not take it where there is no room. */
static enum tc_status take_turn(struct planner *p, size_t clip, int storm, int64_t gap_ms)
{
    const struct night_wish *w = p->wish;
    int64_t length = p->clips[clip].length_ms, start = p->plan->count ? p->at_ms + within_half(p, length, gap_ms) : 0;
    int64_t earliest = p->plan->count ? p->at_ms + within_half(p, length, w->gap_least_ms) : 0;
    if (is_quiet(w, start, length)) start = w->quiet_to_ms;
    if (start + length > p->limit_ms) {
        int64_t latest = p->limit_ms - length; /* with less silence it may fit just so */
        p->full = true;
        if (latest < earliest || is_quiet(w, latest, length)) return TC_OK;
        start = latest;
    }
    if (start + length > p->at_ms) p->at_ms = start + length;
    return night_plan_add(p->plan, (struct night_turn){ .start_ms = start, .end_ms = start + length, .clip = clip,
                                                        .storm = storm });
}

static enum tc_status take_round(struct planner *p)
{
    size_t n = p->round_count, storms = storms_of(n);
    enum tc_status status = TC_OK;
    for (size_t s = 0; s < storms && status == TC_OK; s++) { /* to its end: where one is too long another may fit */
        size_t from = s * n / storms, to = (s + 1) * n / storms;
        size_t before = p->plan->count;
        for (size_t i = from; i < to && status == TC_OK; i++) {
            int64_t gap = i == from ? draw_gap(p, BETWEEN_LEAST, 1)
                                    : draw_gap(p, 0, 1 - OVERHEAD_SHORTER * overhead(i - from, to - from));
            status = take_turn(p, p->round[i], p->storms + 1, gap);
        }
        p->storms += p->plan->count > before;
    }
    return status;
}

/* What is left at the end goes into the gaps, as far as their bound lets it;
 * before quiet hours all stays as it is. */
static void spread(struct planner *p)
{
    const struct night_wish *w = p->wish;
    struct night_turn *turns = p->plan->turns;
    size_t n = p->plan->count, first = 0;
    while (w->quiet_to_ms > w->quiet_from_ms && first < n && turns[first].start_ms < w->quiet_to_ms) first++;
    if (first + 1 >= n) return;
    int64_t left = w->length_ms - night_plan_end(p->plan), moved = 0, end_before = 0;
    for (size_t i = 0; i <= first; i++)
        if (turns[i].end_ms > end_before) end_before = turns[i].end_ms;
    for (size_t i = first + 1; i < n; i++) {
        int64_t room = w->gap_most_ms - (turns[i].start_ms - end_before), more = (left - moved) / (int64_t)(n - i);
        if (turns[i].end_ms > end_before) end_before = turns[i].end_ms;
        if (room > 0) moved += more < room ? more : room;
        turns[i].start_ms += moved;
        turns[i].end_ms += moved;
    }
}

static enum tc_status fill(struct planner *p)
{
    const struct night_wish *w = p->wish;
    enum tc_status status = TC_OK;
    int64_t closing_ms = w->closing != NIGHT_NO_CLIP ? p->clips[w->closing].length_ms : 0;
    if (closing_ms) p->limit_ms = w->length_ms - closing_ms - w->gap_least_ms;
    if (w->opening != NIGHT_NO_CLIP) status = take_turn(p, w->opening, 0, 0);
    if (closing_ms) p->limit_ms = w->length_ms - closing_ms - w->gap_most_ms;
    size_t last = NIGHT_NO_CLIP;
    for (uint64_t round = 0; status == TC_OK && !p->full && p->round_count; round++) {
        deal(p, round, last);
        status = take_round(p);
        last = p->round[p->round_count - 1];
    }
    p->limit_ms = w->length_ms;
    if (status == TC_OK && w->closing != NIGHT_NO_CLIP)
        status = take_turn(p, w->closing, 0, draw_gap(p, BETWEEN_LEAST, 1));
    if (status == TC_OK) spread(p);
    return status;
}

enum tc_status night_plan_make(struct night_plan *plan, const struct night_wish *wish, const struct night_clip *clips,
                               size_t count)
{
    struct planner p = { .wish = wish, .clips = clips, .plan = plan, .limit_ms = wish->length_ms,
                         .gaps = random_keyed(wish->seed, PLAN_DRAW_GAP, 0) };
    *plan = (struct night_plan){ 0 };
    p.round = calloc(count + 1, sizeof *p.round);
    p.storm = calloc(count + 1, sizeof *p.storm);
    for (size_t i = 0; p.round && i < count; i++)
        if (i != wish->opening && i != wish->closing) p.round[p.round_count++] = i;
    enum tc_status status = p.round && p.storm ? fill(&p) : TC_ERR_MEMORY;
    free(p.round);
    free(p.storm);
    if (status != TC_OK) night_plan_clear(plan);
    return status;
}

int64_t night_plan_end(const struct night_plan *p)
{
    int64_t end = 0;
    for (size_t i = 0; i < p->count; i++)
        if (p->turns[i].end_ms > end) end = p->turns[i].end_ms;
    return end;
}

void night_plan_clear(struct night_plan *p)
{
    free(p->turns);
    *p = (struct night_plan){ 0 };
}
