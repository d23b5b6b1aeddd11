#include "app/tune/tune_choice.h"

#define CHI_SQUARE_5 3.84 /* 95th percentile of the chi-square distribution, one degree of freedom */
#define AS_GOOD 0.01 /* differences in F smaller than this mean nothing */

static double f_at(const struct tune *t, size_t row)
{
    return score_f(&t->rows[row].score);
}

static size_t best_row(const struct tune *t, size_t now)
{
    size_t best = 0;
    for (size_t r = 1; r < TUNE_ROWS; r++)
        if (f_at(t, r) > f_at(t, best)) best = r;
    double good = f_at(t, best) - AS_GOOD;
    if (f_at(t, now) >= good) return now;
    size_t first = best, last = best;
    while (first > 0 && f_at(t, first - 1) >= good) first--;
    while (last + 1 < TUNE_ROWS && f_at(t, last + 1) >= good) last++;
    size_t middle = (first + last) / 2, other = (first + last + 1) / 2;
    return f_at(t, other) > f_at(t, middle) ? other : middle;
}

static void find_ties(const struct tune *t, struct tune_choice *c)
{
    double f = f_at(t, c->best) - 1e-9; /* the same counts may come in another order of sums */
    c->tie_first = c->tie_last = c->best;
    while (c->tie_first > 0 && f_at(t, c->tie_first - 1) >= f) c->tie_first--;
    while (c->tie_last + 1 < TUNE_ROWS && f_at(t, c->tie_last + 1) >= f) c->tie_last++;
}

/* By McNemar's test at 5 % (Q. McNemar, Psychometrika 12, 1947) over the cracks
 * that one of the two finds and the other doesn't. What the less sensitive of
 * two rows finds, the other finds too: so the counts tell in how many cracks
 * they differ. */
static bool told_apart(const struct score *less, const struct score *more)
{
    double right = (double)more->hits - (double)less->hits;
    double wrong = (double)more->false_alarms - (double)less->false_alarms;
    double by = right - wrong;
    return by * by > CHI_SQUARE_5 * (right + wrong);
}

static void find_alike(const struct tune *t, struct tune_choice *c)
{
    const struct score *best = &t->rows[c->best].score;
    c->alike_first = c->alike_last = c->best;
    while (c->alike_first > 0 && !told_apart(&t->rows[c->alike_first - 1].score, best)) c->alike_first--;
    while (c->alike_last + 1 < TUNE_ROWS && !told_apart(best, &t->rows[c->alike_last + 1].score)) c->alike_last++;
}

static enum tune_verdict judge(const struct tune *t, const struct tune_choice *c)
{
    const struct score *most = &t->rows[TUNE_ROWS - 1].score;
    if (!t->labelled) return TUNE_NO_LABELS;
    if (!c->required) return TUNE_NO_CRACKS;
    if (2 * t->labels_as_heard > c->required) return TUNE_AS_HEARD;
    if (!most->hits && !most->doubtful_hits) return TUNE_ASTRAY;
    if (c->required < TUNE_FEWEST) return TUNE_FEW;
    if (c->incomplete) return TUNE_INCOMPLETE;
    if (c->now < c->alike_first || c->now > c->alike_last) return TUNE_MOVE;
    return c->best == c->now ? TUNE_FITS : TUNE_UNSURE;
}

struct tune_choice tune_choose(const struct tune *t, double sensitivity)
{
    struct tune_choice c = { .kept = sensitivity, .now = tune_row_at(sensitivity), .required = tune_required(t) };
    const struct score *s = &t->rows[c.now].score;
    c.heard = s->hits + s->false_alarms + s->doubtful_hits;
    c.unlabelled = s->false_alarms;
    c.incomplete = t->labelled && c.required && 2 * c.unlabelled > c.heard;
    c.best = best_row(t, c.now);
    find_ties(t, &c);
    find_alike(t, &c);
    c.verdict = judge(t, &c);
    c.taken = c.verdict == TUNE_MOVE ? c.best : c.now;
    return c;
}

/* ---- Without labels ---- */

size_t tune_next_lower(const struct tune *t, size_t row)
{
    for (size_t r = row; r-- > 0;)
        if (t->rows[r].cracks != t->rows[row].cracks) return r;
    return row;
}

size_t tune_next_higher(const struct tune *t, size_t row)
{
    for (size_t r = row + 1; r < TUNE_ROWS; r++)
        if (t->rows[r].cracks != t->rows[row].cracks) return r;
    return row;
}

bool tune_longest_alike(const struct tune *t, size_t *first, size_t *last)
{
    enum { LEAST = 3, MIDDLE = TUNE_ROWS - 1 }; /* of the sum of both ends */
    size_t longest = 0, nearest = 0;
    for (size_t from = 0, to; from < TUNE_ROWS; from = to + 1) {
        to = from;
        while (to + 1 < TUNE_ROWS && t->rows[to + 1].cracks == t->rows[from].cracks) to++;
        size_t rows = to - from + 1, sum = from + to, off = sum > MIDDLE ? sum - MIDDLE : MIDDLE - sum;
        if (!from || to + 1 == TUNE_ROWS || rows < LEAST) continue;
        if (rows < longest || (rows == longest && off >= nearest)) continue;
        longest = rows;
        nearest = off;
        *first = from;
        *last = to;
    }
    return longest > 0;
}
