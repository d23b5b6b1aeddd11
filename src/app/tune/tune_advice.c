/* Which sensitivity to take, in words. */
#include <stdlib.h>

#include "app/tune/tune_report.h"
#include "words/memory.h"
#include "words/numbers.h"
#include "words/settings.h"

enum { TIMES_MOST = 10 }; /* that a line lists */

static const char *plural(size_t n)
{
    return n == 1 ? "" : "s";
}

static double f_at(const struct sweep *t, size_t row)
{
    return score_f(&t->rows[row].score);
}

static double value(const struct sweep *t, size_t row)
{
    return t->rows[row].sensitivity;
}

/* ---- Which cracks ---- */

static void print_time(FILE *out, size_t n, int64_t ms)
{
    if (n < TIMES_MOST) fprintf(out, "%s %.3f", n ? "," : "", (double)ms / 1000);
}

static void end_times(FILE *out, size_t n)
{
    if (n > TIMES_MOST) fprintf(out, " and %zu more", n - TIMES_MOST);
    fputs(" s", out);
}

/* The cracks that count at one row and not at another, below it. */
static void print_between(FILE *out, const struct sweep *t, size_t low, size_t high)
{
    size_t n = 0;
    for (size_t i = 0; i < t->heard_count; i++) {
        double found_at = (double)t->heard[i].found_at;
        if (found_at > value(t, low) && found_at <= value(t, high)) print_time(out, n++, t->heard[i].at_ms);
    }
    end_times(out, n);
}

/* The next rows of the table at which the picture differs. */
static void print_neighbours(FILE *out, const struct sweep *t, size_t now, bool one)
{
    size_t lower = sweep_next_lower(t, now), higher = sweep_next_higher(t, now), count = t->rows[now].cracks;
    char cracks[40] = "no crack";
    if (count) snprintf(cracks, sizeof cracks, "%zu crack%s", count, plural(count));
    if (lower == now && higher == now) {
        fprintf(out, "Every sensitivity finds the same here: %s.\n", cracks);
        return;
    }
    fprintf(out, "%.0f finds %s. The next values of the table that differ:\n", value(t, now), cracks);
    if (lower != now) {
        fprintf(out, "  %3.0f finds %zu fewer%s", value(t, lower), count - t->rows[lower].cracks, one ? ": without" : "");
        if (one) print_between(out, t, lower, now);
        fputc('\n', out);
    } else {
        fputs("  below it, all find the same\n", out);
    }
    if (higher != now) {
        fprintf(out, "  %3.0f finds %zu more%s", value(t, higher), t->rows[higher].cracks - count, one ? ": also" : "");
        if (one) print_between(out, t, now, higher);
        fputc('\n', out);
    } else {
        fputs("  above it, all find the same\n", out);
    }
}

/* What is missed and what has no label, by their times. */
static enum tc_status print_told(FILE *out, const struct sweep *t, const struct sweep_choice *c)
{
    size_t row = c->taken;
    size_t *missed = memory_new(t->marks.count + 1, sizeof *missed), misses = 0, others = 0;
    int64_t *unlabelled = memory_new(t->heard_count + 1, sizeof *unlabelled);
    enum tc_status status = missed && unlabelled ? sweep_tell(t, row, missed, &misses, unlabelled, &others) : TC_ERR_MEMORY;
    if (status == TC_OK && misses) {
        fprintf(out, "  Missed at %.0f:", value(t, row));
        for (size_t i = 0; i < misses; i++) {
            const struct label *l = &t->marks.labels[missed[i]];
            print_time(out, i, l->event.start_ms);
            if (i < TIMES_MOST && l->weight == 3) fputs(" (weight 3)", out);
        }
        end_times(out, misses);
        fputc('\n', out);
    }
    if (status == TC_OK && others) {
        fprintf(out, c->incomplete ? "  Without a label at %.0f:" : "  False at %.0f, being without a label:", value(t, row));
        for (size_t i = 0; i < others; i++) print_time(out, i, unlabelled[i]);
        end_times(out, others);
        fputc('\n', out);
    }
    memory_free(missed);
    memory_free(unlabelled);
    return status;
}

/* Where the sensitivity in use has no row of its own. */
static void print_nearest(FILE *out, const struct sweep *t, const struct sweep_choice *c)
{
    double row = value(t, c->now);
    if (c->kept > row || c->kept < row)
        fprintf(out, "  (%s has no row of its own; the nearest, %.0f, stands for it.)\n", SHOWN(c->kept, 6), row);
}

/* ---- Without labels ---- */

static void print_without_labels(FILE *out, const struct sweep *t, const struct sweep_choice *c, bool one)
{
    double usual = tc_settings_default().sensitivity;
    size_t first, last;
    fprintf(out, "\n> Without labels nothing can choose. Start with %s, right for most recordings", SHOWN(usual, 6));
    if (c->now == sweep_row_at(usual)) fputs(".\n", out);
    else fprintf(out, ", or with %s, which was asked for.\n", SHOWN(c->kept, 6));
    print_nearest(out, t, c);
    print_neighbours(out, t, c->now, one);
    if (sweep_longest_alike(t, &first, &last))
        fprintf(out, "From %.0f to %.0f the number of cracks stays the same (%zu); that doesn't say that they are right.\n",
                value(t, first), value(t, last), t->rows[first].cracks);
    if (one)
        fputs("For labels to start from: thundercue tune RECORDING --format labels > NAME.labels.csv, then correct\n"
              "them by ear and run tune again. An events.csv that you corrected does as well: --labels FILE.\n", out);
    else
        fputs("For labels to start from: thundercue tune RECORDING --format labels > NAME.labels.csv for some of them,\n"
              "beside the recording; then correct them by ear and run tune again.\n", out);
}

/* ---- With labels ---- */

/* What keeps the labels from choosing, whatever they say. */
static void print_doubts(FILE *out, const struct sweep *t, const struct sweep_choice *c, bool one)
{
    if (c->verdict == SWEEP_AS_HEARD && one)
        fprintf(out, "The labels are exactly what is heard at %s, so they can only agree with it: correct them by ear first.\n"
                "(If you have, and nothing was wrong with them, %s is right for this recording.)\n",
                SHOWN(t->as_heard_at, 6), SHOWN(t->as_heard_at, 6));
    else if (c->verdict == SWEEP_AS_HEARD)
        fputs("Most labels are exactly what is heard, so they can only agree with it: correct them by ear first.\n", out);
    if (c->verdict == SWEEP_ASTRAY)
        fprintf(out, "No label is within %.0f ms of a crack heard at any sensitivity. Are they of this recording, in seconds\n"
                "from its start?\n", 1000 * SCORE_TOLERANCE_S);
    else if (c->incomplete)
        fprintf(out, "%zu of the %zu cracks heard at %.0f have no label%s. Label those that are cracks, too, or delete the label file:\n"
                "until then it is not known which are false alarms, and P and F mean nothing.\n", c->unlabelled, c->heard,
                value(t, c->now), one ? "" : ", most of them where it says so above");
}

static void print_verdict(FILE *out, const struct sweep *t, const struct sweep_choice *c)
{
    const char *kept = SHOWN(c->kept, 6);
    double now = value(t, c->now), best = value(t, c->best), f_now = f_at(t, c->now), f_best = f_at(t, c->best);
    const char *s = plural(c->required);
    fprintf(out, "> %s %s", c->verdict == SWEEP_MOVE ? "Take" : "Stay at", c->verdict == SWEEP_MOVE ? SHOWN(best, 6) : kept);
    switch (c->verdict) {
    case SWEEP_NO_CRACKS:
        fputs(": the labels name no crack that must be found (weight 2 or 3, or without a weight).\n", out);
        return;
    case SWEEP_AS_HEARD:
    case SWEEP_ASTRAY:
        fputs(" until then.\n", out);
        return;
    case SWEEP_FEW:
        fprintf(out, ": %zu labelled crack%s that must be found can't choose; %d are the least, a few dozen better.\n",
                c->required, s, SWEEP_FEWEST);
        break;
    case SWEEP_INCOMPLETE:
        fputs(" until then.\n", out);
        break;
    case SWEEP_UNSURE:
        fprintf(out, ": %.0f fits better (F %.3f; %.0f: %.3f), but %zu labelled crack%s can't tell the two apart.\n", best, f_best,
                now, f_now, c->required, s);
        return;
    case SWEEP_MOVE:
        fprintf(out, ": by %zu labelled crack%s %.0f fits clearly worse (F %.3f; %.0f: %.3f).", c->required, s, now, f_now, best,
                f_best);
        break;
    case SWEEP_FITS:
        fprintf(out, ": %.0f fits best (F %.3f).", now, f_best);
        break;
    case SWEEP_NO_LABELS:
        break;
    }
    if (c->verdict == SWEEP_MOVE || c->verdict == SWEEP_FITS) {
        if (c->alike_first < c->alike_last)
            fprintf(out, " %.0f to %.0f would do as well.", value(t, c->alike_first), value(t, c->alike_last));
        fputc('\n', out);
    } else if (c->best == c->now) {
        fprintf(out, "  By these, %.0f fits best (F %.3f), too.\n", now, f_best);
    } else {
        fprintf(out, "  By these, %.0f fits best (F %.3f; %.0f: %.3f); don't rely on it.\n", best, f_best, now, f_now);
    }
}

static void print_details(FILE *out, struct sweep *t, const struct sweep_choice *c)
{
    struct score *s = &t->rows[c->taken].score;
    size_t sure = s->sure - s->sure_hits;
    fprintf(out, "  At %.0f: %zu of %zu found within %.0f ms", value(t, c->taken), s->hits, c->required,
            1000 * SCORE_TOLERANCE_S);
    if (sure) fprintf(out, " (%zu of the missed unmistakable: weight 3)", sure);
    fputs(".\n", out);
    if (s->hits)
        fprintf(out, "  Timing error: median %.1f ms, 95th percentile %.1f ms.", 1000 * score_error(s, 0.5),
                1000 * score_error(s, 0.95));
    if (s->steps_both + s->steps_labelled)
        fprintf(out, "%s Rumbles: F %.2f over steps of %.1f s.", s->hits ? "" : " ", score_rumble_f(s), SCORE_STEP_S);
    if (s->hits || s->steps_both + s->steps_labelled) fputc('\n', out);
}

enum tc_status tune_print_advice(FILE *out, struct sweep *t, const struct sweep_choice *c, bool one)
{
    if (c->verdict == SWEEP_NO_LABELS) {
        print_without_labels(out, t, c, one);
        return TC_OK;
    }
    const struct score *s = &t->rows[c->taken].score;
    fputc('\n', out);
    print_doubts(out, t, c, one);
    print_verdict(out, t, c);
    if (c->verdict != SWEEP_MOVE) print_nearest(out, t, c);
    if (c->required) print_details(out, t, c);
    if (s->doubtful)
        fprintf(out, "  %zu doubtful crack%s (weight 1): neither finding nor missing %s counts.\n", s->doubtful,
                plural(s->doubtful), s->doubtful == 1 ? "it" : "them");
    enum tc_status status = one ? print_told(out, t, c) : TC_OK;
    if (one) print_neighbours(out, t, c->taken, one);
    fputs("P (precision): the share of the cracks found that are labelled. R (recall): the share of the labelled\n"
          "cracks that are found. F: the two in one number, 1 when both are.\n", out);
    fputs(c->required ? "In the table: > the one to take, * the best F.\n" : "In the table: > the one to take.\n", out);
    return status;
}
