#include "marks/events_text.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "words/csv.h"
#include "words/memory.h"
#include "words/numbers.h"
#include "words/status.h"
#include "words/text.h"

enum column { KIND, START, END, PEAK, STRENGTH, SHARPNESS, LEVEL, WEIGHT, STROKES, PATH, COLUMNS };

static const struct {
    const char *name;
    enum column column;
} names[] = {
    { "kind", KIND }, { "start_s", START }, { "end_s", END }, { "peak_s", PEAK },
    { "strength", STRENGTH }, { "sharpness", SHARPNESS }, { "level_dbfs", LEVEL },
    { "weight", WEIGHT }, { "strokes", STROKES }, { "path", PATH }, { "channels", PATH },
};

struct reader {
    struct csv *csv;
    char file[256];
    int at[COLUMNS];        /* cell of each column, -1 if it is not there */
    struct label *labels;
    size_t count, room;
    struct tc_problem *why;
};

static enum tc_status complain(struct reader *r, const char *what, const char *cell,
                               const char *right)
{
    char plain[80];
    return problem_set(r->why, TC_ERR_FORM, "%s:%ld: %s '%s' is not %s", r->file, csv_line(r->csv),
                       what, text_plain(plain, sizeof plain, cell), right);
}

static const char *cell(const struct reader *r, enum column c)
{
    return r->at[c] < 0 ? "" : csv_get(r->csv, (size_t)r->at[c]);
}

/* A number in bounds; an empty cell leaves *out as it is. */
static enum tc_status number(struct reader *r, enum column c, const char *what, double least,
                             double most, double *out)
{
    const char *text = cell(r, c);
    if (!*text) return TC_OK;
    double v;
    if (number_read(text, &v) && v >= least && v <= most) {
        *out = v;
        return TC_OK;
    }
    char right[64];
    snprintf(right, sizeof right, "a number from %g to %g", least, most);
    return complain(r, what, text, right);
}

/* A whole number in bounds; an empty cell leaves *out as it is. */
static enum tc_status whole(struct reader *r, enum column c, const char *what, int least, int most, int *out)
{
    const char *text = cell(r, c);
    if (!*text) return TC_OK;
    int64_t v;
    if (number_read_whole(text, &v) && v >= least && v <= most) {
        *out = (int)v;
        return TC_OK;
    }
    char right[64];
    snprintf(right, sizeof right, "a whole number from %d to %d", least, most);
    return complain(r, what, text, right);
}

static int64_t to_ms(double seconds)
{
    return (int64_t)floor(seconds * 1000 + 0.5);
}

static float to_hundredth(double x)
{
    return (float)(floor(x * 100 + 0.5) / 100);
}

#define LONGEST_S 1e6 /* eleven days */

static enum tc_status read_path(struct reader *r, struct tc_event *e)
{
    const char *text = cell(r, PATH);
    while (*text) {
        char *end;
        errno = 0;
        long n = strtol(text, &end, 10);
        if (end == text || n < 1 || n > TC_MAX_CHANNELS || e->path_count == TC_PATH_MAX_CHANNELS)
            return complain(r, "path", cell(r, PATH), "up to 16 channel numbers divided by spaces");
        e->path[e->path_count++] = (uint16_t)n;
        text = end + strspn(end, " ;");
    }
    return TC_OK;
}

static enum tc_status read_row(struct reader *r)
{
    struct label l = { 0 };
    struct tc_event *e = &l.event;
    const char *kind = cell(r, KIND);
    if (text_same(kind, "crack")) e->kind = TC_CRACK;
    else if (text_same(kind, "rumble")) e->kind = TC_RUMBLE;
    else return complain(r, "kind", kind, "crack or rumble");

    double start = -1, strength = 1, sharpness = e->kind == TC_CRACK ? 1 : 0;
    double level = 0;
    if (!*cell(r, START)) return complain(r, "start_s", "", "a time in seconds");
    enum tc_status status = number(r, START, "start_s", 0, LONGEST_S, &start);
    double end = start, peak = start;
    if (status == TC_OK) status = number(r, END, "end_s", 0, LONGEST_S, &end);
    if (status == TC_OK) status = number(r, PEAK, "peak_s", 0, LONGEST_S, &peak);
    if (status == TC_OK) status = number(r, STRENGTH, "strength", 0, 1, &strength);
    if (status == TC_OK) status = number(r, SHARPNESS, "sharpness", 0, 1, &sharpness);
    if (status == TC_OK) status = number(r, LEVEL, "level_dbfs", -200, 100, &level);
    if (status == TC_OK) status = whole(r, WEIGHT, "weight", 1, 3, &l.weight);
    if (status == TC_OK) status = whole(r, STROKES, "strokes", 1, 20, &e->strokes);
    if (status == TC_OK) status = read_path(r, e);
    if (status != TC_OK) return status;
    if (end < start) return complain(r, "end_s", cell(r, END), "at or after start_s");
    if (e->kind == TC_RUMBLE && !*cell(r, END))
        return complain(r, "end_s", "", "a time in seconds, which a rumble needs");

    e->start_ms = to_ms(start);
    e->end_ms = to_ms(end);
    e->peak_ms = to_ms(peak);
    e->strength = to_hundredth(strength);
    e->sharpness = to_hundredth(sharpness);
    e->level_dbfs = (float)level;

    if (r->count == r->room) {
        size_t room = r->room ? 2 * r->room : 64;
        struct label *more = memory_resize(r->labels, room * sizeof *more);
        if (!more) return problem_set(r->why, TC_ERR_MEMORY, "out of memory");
        r->labels = more;
        r->room = room;
    }
    r->labels[r->count++] = l;
    return TC_OK;
}

static enum tc_status read_head(struct reader *r)
{
    for (int c = 0; c < COLUMNS; c++) r->at[c] = -1;
    for (size_t i = 0; i < csv_count(r->csv); i++)
        for (size_t n = 0; n < sizeof names / sizeof *names; n++)
            if (text_same(csv_get(r->csv, i), names[n].name)) r->at[names[n].column] = (int)i;
    if (r->at[KIND] < 0 || r->at[START] < 0)
        return problem_set(r->why, TC_ERR_FORM,
                           "%s:%ld: the first row must name the columns, at least kind,start_s",
                           r->file, csv_line(r->csv));
    return TC_OK;
}

static int by_start(const void *left, const void *right)
{
    const struct tc_event *a = &((const struct label *)left)->event;
    const struct tc_event *b = &((const struct label *)right)->event;
    if (a->start_ms != b->start_ms) return a->start_ms < b->start_ms ? -1 : 1;
    if (a->kind != b->kind) return (int)a->kind - (int)b->kind;
    return a->end_ms < b->end_ms ? -1 : a->end_ms > b->end_ms;
}

static enum tc_status read_rows(struct reader *r)
{
    enum tc_status status = TC_OK;
    bool head = false;
    enum csv_result row = CSV_ROW;
    while (status == TC_OK && (row = csv_next(r->csv)) == CSV_ROW) {
        status = head ? read_row(r) : read_head(r);
        head = true;
    }
    if (status != TC_OK) return status;
    if (row == CSV_MEMORY) return problem_set(r->why, TC_ERR_MEMORY, "out of memory");
    if (row != CSV_END)
        return problem_set(r->why, TC_ERR_FORM, "%s:%ld: %s", r->file, csv_line(r->csv),
                           csv_result_text(row));
    if (!head)
        return problem_set(r->why, TC_ERR_FORM, "%s: is empty; it needs a row kind,start_s,...", r->file);
    return TC_OK;
}

enum tc_status labels_read(const char *path, struct label **out, size_t *count,
                           struct tc_problem *why)
{
    *out = NULL;
    *count = 0;
    struct reader r = { .why = why };
    text_plain(r.file, sizeof r.file, path);
    FILE *in = fopen(path, "rb");
    if (!in) return problem_set(why, TC_ERR_FORM, "%s: can't be read: %s", r.file, strerror(errno));
    r.csv = csv_open(in);
    enum tc_status status = r.csv ? read_rows(&r) : problem_set(why, TC_ERR_MEMORY, "out of memory");
    csv_close(r.csv);
    fclose(in);
    if (status != TC_OK) {
        memory_free(r.labels);
        return status;
    }
    if (r.count) qsort(r.labels, r.count, sizeof *r.labels, by_start);
    *out = r.labels;
    *count = r.count;
    return TC_OK;
}
