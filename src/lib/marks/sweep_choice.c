#include "marks/sweep_choice.h"

#define CHI_SQUARE_5 3.84 /* 95th percentile of the chi-square distribution, one degree of freedom */
#define SAME_F 1e-9       /* the same counts may come in another order of sums */

static double f_at(const struct sweep *t, size_t row)
{
    return score_f(&t->rows[row].score);
}

/* Of the rows with the best F the one in use, else the middle of those nearest to it. */
static void find_best(const struct sweep *t, struct sweep_choice *c)
{
    double top = 0;
    size_t nearest = SWEEP_ROWS;
    for (size_t r = 0; r < SWEEP_ROWS; r++) top = f_at(t, r) > top ? f_at(t, r) : top;
    c->best_f = top - SAME_F;
    for (size_t first = 0, last; first < SWEEP_ROWS; first = last + 1) {
        last = first;
        if (f_at(t, first) < c->best_f) continue;
        while (last + 1 < SWEEP_ROWS && f_at(t, last + 1) >= c->best_f) last++;
        size_t away = c->now < first ? first - c->now : c->now > last ? c->now - last : 0;
        if (away >= nearest) continue;
        nearest = away;
        c->best = away ? (first + last + 1) / 2 : c->now;
    }
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

static bool told_from(const struct sweep *t, size_t one, size_t other)
{
    return one < other ? told_apart(&t->rows[one].score, &t->rows[other].score)
                       : told_apart(&t->rows[other].score, &t->rows[one].score);
}

static void find_alike(const struct sweep *t, struct sweep_choice *c)
{
    c->alike_first = c->alike_last = c->best;
    while (c->alike_first > 0 && !told_from(t, c->alike_first - 1, c->best)) c->alike_first--;
    while (c->alike_last + 1 < SWEEP_ROWS && !told_from(t, c->alike_last + 1, c->best)) c->alike_last++;
}

static enum sweep_verdict judge(const struct sweep *t, const struct sweep_choice *c)
{
    const struct score *most = &t->rows[SWEEP_ROWS - 1].score;
    if (!t->labelled) return SWEEP_NO_LABELS;
    if (!c->required) return SWEEP_NO_CRACKS;
    if (2 * t->labels_as_heard > c->required) return SWEEP_AS_HEARD;
    if (!most->hits && !most->doubtful_hits) return SWEEP_ASTRAY;
    if (c->required < SWEEP_FEWEST) return SWEEP_FEW;
    if (c->incomplete) return SWEEP_INCOMPLETE;
    if (c->best == c->now) return SWEEP_FITS;
    return told_from(t, c->now, c->best) ? SWEEP_MOVE : SWEEP_UNSURE;
}

struct sweep_choice sweep_choose(const struct sweep *t, double sensitivity)
{
    struct sweep_choice c = { .kept = sensitivity, .now = sweep_row_at(sensitivity), .required = sweep_required(t) };
    const struct score *s = &t->rows[c.now].score;
    c.heard = s->hits + s->false_alarms + s->doubtful_hits;
    c.unlabelled = s->false_alarms;
    c.incomplete = 2 * t->rows[c.now].unlabelled > c.unlabelled;
    find_best(t, &c);
    find_alike(t, &c);
    c.verdict = judge(t, &c);
    c.taken = c.verdict == SWEEP_MOVE ? c.best : c.now;
    return c;
}

/* ---- Without labels ---- */

size_t sweep_next_lower(const struct sweep *t, size_t row)
{
    for (size_t r = row; r-- > 0;)
        if (t->rows[r].cracks != t->rows[row].cracks) return r;
    return row;
}

size_t sweep_next_higher(const struct sweep *t, size_t row)
{
    for (size_t r = row + 1; r < SWEEP_ROWS; r++)
        if (t->rows[r].cracks != t->rows[row].cracks) return r;
    return row;
}

bool sweep_longest_alike(const struct sweep *t, size_t *first, size_t *last)
{
    enum { LEAST = 3, MIDDLE = SWEEP_ROWS - 1 }; /* of the sum of both ends */
    size_t longest = 0, nearest = 0;
    for (size_t from = 0, to; from < SWEEP_ROWS; from = to + 1) {
        to = from;
        while (to + 1 < SWEEP_ROWS && t->rows[to + 1].cracks == t->rows[from].cracks) to++;
        size_t rows = to - from + 1, sum = from + to, off = sum > MIDDLE ? sum - MIDDLE : MIDDLE - sum;
        if (!from || to + 1 == SWEEP_ROWS || rows < LEAST) continue;
        if (rows < longest || (rows == longest && off >= nearest)) continue;
        longest = rows;
        nearest = off;
        *first = from;
        *last = to;
    }
    return longest > 0;
}
