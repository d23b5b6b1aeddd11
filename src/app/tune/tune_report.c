#include "app/tune/tune_report.h"

#include <math.h>
#include <stdlib.h>

#include "io/files/stream.h"
#include "words/numbers.h"
#include "words/text.h"

enum { BAR = 24 };

static double a_minute(size_t cracks, int64_t length_ms)
{
    return length_ms > 0 ? 60000.0 * (double)cracks / (double)length_ms : 0;
}

/* What the shares of a score are shares of; where that is nothing, there is no share. */
struct shares {
    double value;
    size_t of;
};

static struct shares precision(const struct score *s)
{
    return (struct shares){ score_precision(s), s->hits + s->false_alarms };
}

static struct shares recall(const struct score *s)
{
    return (struct shares){ score_recall(s), s->hits + s->misses };
}

static struct shares both(const struct score *s)
{
    return (struct shares){ score_f(s), s->hits + s->misses + s->false_alarms };
}

/* Rumbles that no label names may be thunder all the same: nobody looked. */
static struct shares rumbles(const struct score *s)
{
    return (struct shares){ score_rumble_f(s), s->steps_both + s->steps_labelled };
}

/* ---- CSV ---- */

void tune_csv_head(FILE *out)
{
    fputs("recording,sensitivity,cracks,rumbles,cracks_a_minute,hits,misses,false_alarms,"
          "precision,recall,f,rumble_f\r\n", out);
}

static void csv_share(FILE *out, struct shares s)
{
    if (s.of) fprintf(out, ",%.3f", s.value);
    else fputc(',', out);
}

void tune_csv_rows(FILE *out, const char *name, const struct sweep *t)
{
    char plain[512];
    text_plain(plain, sizeof plain, name);
    for (size_t r = 0; r < SWEEP_ROWS; r++) {
        const struct sweep_row *row = &t->rows[r];
        const struct score *s = &row->score;
        stream_cell(out, plain, true);
        fprintf(out, ",%.0f,%zu,%zu,%.2f", row->sensitivity, row->cracks, row->rumbles,
                a_minute(row->cracks, t->length_ms));
        if (t->labelled) {
            fprintf(out, ",%zu,%zu,%zu", s->hits, s->misses, s->false_alarms);
            csv_share(out, precision(s));
            csv_share(out, recall(s));
            csv_share(out, both(s));
            csv_share(out, rumbles(s));
        } else {
            fputs(",,,,,,,", out);
        }
        fputs("\r\n", out);
    }
}

/* ---- Tables ---- */

static void print_share(FILE *out, int width, struct shares s)
{
    if (s.of) fprintf(out, " %*.2f", width, s.value);
    else fprintf(out, " %*s", width, "-");
}

void tune_print_recordings_head(FILE *out, double sensitivity)
{
    fprintf(out, "At sensitivity %.0f\n", (double)(sweep_row_at(sensitivity) * SWEEP_STEP));
    fprintf(out, "%-28s %8s %7s %8s  %5s %6s %6s  %5s %5s %5s %8s\n", "recording", "seconds", "cracks", "rumbles",
            "hits", "missed", "false", "P", "R", "F", "rumble F");
}

void tune_print_recording(FILE *out, const char *name, const struct sweep *one, double sensitivity)
{
    char plain[29];
    const struct sweep_row *row = &one->rows[sweep_row_at(sensitivity)];
    const struct score *s = &row->score;
    fprintf(out, "%-28s %8.1f %7zu %8zu", text_plain(plain, sizeof plain, name), (double)one->length_ms / 1000,
            row->cracks, row->rumbles);
    if (one->labelled) {
        fprintf(out, "  %5zu %6zu %6zu ", s->hits, s->misses, s->false_alarms);
        print_share(out, 5, precision(s));
        print_share(out, 5, recall(s));
        print_share(out, 5, both(s));
        print_share(out, 8, rumbles(s));
        if (row->unlabelled) fputs("  most have no label", out);
    } else {
        fputs("  (no labels)", out);
    }
    fputc('\n', out);
}

static void print_bar(FILE *out, double share)
{
    int n = (int)(share * BAR + 0.5);
    for (int i = 0; i < n; i++) fputc('=', out);
}

void tune_print_sweep(FILE *out, const struct sweep *t, const struct sweep_choice *c)
{
    double most = 1;
    bool ties = t->labelled && c->required;
    for (size_t r = 0; r < SWEEP_ROWS; r++) most = fmax(most, (double)t->rows[r].cracks);
    fprintf(out, "  %11s %7s %8s", "sensitivity", "cracks", "a minute");
    if (t->labelled)
        fprintf(out, "  %5s %6s %6s  %5s %5s %5s  %s\n", "hits", "missed", "false", "P", "R", "F", "plot of F");
    else fputs("  plot of cracks\n", out);
    for (size_t r = 0; r < SWEEP_ROWS; r++) {
        const struct sweep_row *row = &t->rows[r];
        const struct score *s = &row->score;
        char mark = r == c->taken ? '>' : ties && score_f(s) >= c->best_f ? '*' : ' ';
        fprintf(out, "%c %11.0f %7zu %8.1f", mark, row->sensitivity, row->cracks, a_minute(row->cracks, t->length_ms));
        if (t->labelled) {
            fprintf(out, "  %5zu %6zu %6zu ", s->hits, s->misses, s->false_alarms);
            print_share(out, 5, precision(s));
            print_share(out, 5, recall(s));
            print_share(out, 5, both(s));
        }
        double bar = t->labelled ? score_f(s) : (double)row->cracks / most;
        if (bar > 0) fputs("  ", out);
        print_bar(out, bar);
        fputc('\n', out);
    }
}
