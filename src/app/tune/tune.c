#include "app/tune/tune.h"

#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "app/clip/listen_file.h"
#include "io/files/read_form.h"
#include "words/status.h"

#define CHI_SQUARE_5 3.84 /* 95th percentile of the chi-square distribution, one degree of freedom */
#define AS_GOOD 0.01 /* differences in F smaller than this mean nothing */

struct tune tune_empty(void)
{
    struct tune t = { 0 };
    for (size_t i = 0; i < TUNE_ROWS; i++) t.rows[i].sensitivity = (double)(i * TUNE_STEP);
    return t;
}

/* ---- Labels beside a recording ---- */

char *tune_labels(const char *recording)
{
    static const char ending[] = ".labels.csv";
    size_t length = strlen(recording);
    char *path = calloc(1, length + sizeof ending);
    if (!path) return NULL;
    memcpy(path, recording, length);
    char *slash = strrchr(path, '/'), *dot = strrchr(path, '.');
    if (!dot || (slash && dot < slash)) dot = path + length;
    memcpy(dot, ending, sizeof ending);
    struct stat st;
    if (!stat(path, &st)) return path;
    free(path);
    return NULL;
}

/* ---- The sweep ---- */

static enum tc_status sweep(const struct tc_analysis *heard, const struct label *labels,
                            size_t label_count, bool labelled, struct tune *out)
{
    double *times = calloc(heard->candidate_count + 1, sizeof *times);
    if (!times) return TC_ERR_MEMORY;
    size_t rumbles = 0;
    for (size_t i = 0; i < heard->event_count; i++) rumbles += heard->events[i].kind == TC_RUMBLE;
    enum tc_status status = TC_OK;
    for (size_t r = 0; r < TUNE_ROWS && status == TC_OK; r++) {
        struct tune_row *row = &out->rows[r];
        size_t n = 0;
        for (size_t i = 0; i < heard->candidate_count; i++)
            if ((double)heard->candidates[i].found_at <= row->sensitivity)
                times[n++] = (double)heard->candidates[i].at_ms / 1000;
        row->cracks = n;
        row->rumbles = rumbles;
        if (!labelled) continue;
        status = score_add_cracks(&row->score, labels, label_count, times, n, SCORE_TOLERANCE_S);
        if (status == TC_OK)
            status = score_add_rumbles(&row->score, labels, label_count, heard->events, heard->event_count,
                                       heard->length_ms);
    }
    free(times);
    return status;
}

enum tc_status tune_listen(const char *recording, const char *labels_path, const struct tc_settings *s,
                           struct tune *out, struct tc_problem *remark, struct tc_problem *why)
{
    struct tc_analysis heard = { 0 };
    struct marks marks = { 0 };
    char *beside = labels_path ? NULL : tune_labels(recording);
    if (!labels_path) labels_path = beside;

    enum tc_status status = labels_path ? read_marks(labels_path, &marks, why) : TC_OK;
    if (status == TC_OK) status = listen_file(recording, s, &heard, remark, why);
    if (status == TC_OK) {
        out->recordings = 1;
        out->labelled = labels_path != NULL;
        out->length_ms = heard.length_ms;
        status = sweep(&heard, marks.labels, marks.count, labels_path != NULL, out);
        if (status != TC_OK) problem_say(why, status);
    }
    tc_analysis_clear(&heard);
    marks_clear(&marks);
    free(beside);
    return status;
}

enum tc_status tune_add(struct tune *sum, const struct tune *one)
{
    sum->recordings += one->recordings;
    sum->labelled += one->labelled;
    sum->length_ms += one->length_ms;
    for (size_t r = 0; r < TUNE_ROWS; r++) {
        sum->rows[r].cracks += one->rows[r].cracks;
        sum->rows[r].rumbles += one->rows[r].rumbles;
        enum tc_status status = score_add(&sum->rows[r].score, &one->rows[r].score);
        if (status != TC_OK) return status;
    }
    return TC_OK;
}

size_t tune_required(const struct tune *t)
{
    return t->rows[0].score.hits + t->rows[0].score.misses;
}

size_t tune_best(const struct tune *t)
{
    size_t best = 0;
    for (size_t r = 1; r < TUNE_ROWS; r++)
        if (score_f(&t->rows[r].score) > score_f(&t->rows[best].score)) best = r;
    double good = score_f(&t->rows[best].score) - AS_GOOD;
    size_t first = best, last = best;
    while (first > 0 && score_f(&t->rows[first - 1].score) >= good) first--;
    while (last + 1 < TUNE_ROWS && score_f(&t->rows[last + 1].score) >= good) last++;
    size_t middle = (first + last) / 2, other = (first + last + 1) / 2;
    return score_f(&t->rows[other].score) > score_f(&t->rows[middle].score) ? other : middle;
}

size_t tune_best_or(const struct tune *t, size_t now)
{
    size_t best = tune_best(t);
    return score_f(&t->rows[now].score) >= score_f(&t->rows[best].score) - AS_GOOD ? now : best;
}

void tune_ties(const struct tune *t, size_t best, size_t *first, size_t *last)
{
    double f = score_f(&t->rows[best].score) - 1e-9; /* the same counts may come in another order of sums */
    *first = *last = best;
    while (*first > 0 && score_f(&t->rows[*first - 1].score) >= f) --*first;
    while (*last + 1 < TUNE_ROWS && score_f(&t->rows[*last + 1].score) >= f) ++*last;
}

/* What the more sensitive of two rows finds, the other finds too: so the counts
 * tell in how many cracks they differ. */
static bool told_apart(const struct score *less, const struct score *more)
{
    double right = (double)more->hits - (double)less->hits;
    double wrong = (double)more->false_alarms - (double)less->false_alarms;
    double by = right - wrong;
    return by * by > CHI_SQUARE_5 * (right + wrong);
}

void tune_as_good(const struct tune *t, size_t best, size_t *first, size_t *last)
{
    const struct score *middle = &t->rows[best].score;
    *first = *last = best;
    while (*first > 0 && !told_apart(&t->rows[*first - 1].score, middle)) --*first;
    while (*last + 1 < TUNE_ROWS && !told_apart(middle, &t->rows[*last + 1].score)) ++*last;
}

void tune_steadiest(const struct tune *t, size_t *first, size_t *last)
{
    enum { SPAN = 20 / TUNE_STEP, FROM = 20 / TUNE_STEP, TO = 80 / TUNE_STEP, MIDDLE = (FROM + TO) / 2 };
    double least = 0;
    size_t away = 0;
    *first = FROM;
    for (size_t r = FROM; r + SPAN <= TO; r++) {
        double from = (double)t->rows[r].cracks, to = (double)t->rows[r + SPAN].cracks;
        double change = from > 0 ? to / from : 1e9;
        size_t centre = r + SPAN / 2, off = centre > MIDDLE ? centre - MIDDLE : MIDDLE - centre;
        if (r > FROM && (change > least || (!(change < least) && off >= away))) continue;
        least = change;
        away = off;
        *first = r;
    }
    *last = *first + SPAN;
}

void tune_clear(struct tune *t)
{
    for (size_t r = 0; r < TUNE_ROWS; r++) score_clear(&t->rows[r].score);
    *t = tune_empty();
}
