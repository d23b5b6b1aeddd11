#include "marks/events_text.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "words/csv.h"
#include "words/memory.h"
#include "words/numbers.h"
#include "words/status.h"
#include "words/text.h"
#include "words/units.h"
#include "words/watch.h"

enum column { KIND, START, END, PEAK, STRENGTH, SHARPNESS, LEVEL, WEIGHT, STROKES, PATH, SENSITIVITY, FRAME_RATE,
              COLUMNS };

static const struct {
    const char *name;
    enum column column;
} names[] = {
    { "kind", KIND }, { "start_s", START }, { "end_s", END }, { "peak_s", PEAK },
    { "strength", STRENGTH }, { "sharpness", SHARPNESS }, { "level_dbfs", LEVEL },
    { "weight", WEIGHT }, { "strokes", STROKES }, { "path", PATH }, { "channels", PATH },
    { "sensitivity", SENSITIVITY }, { "frame_rate", FRAME_RATE },
};

struct reader {
    struct csv *csv;
    char file[256];
    int at[COLUMNS];        /* cell of each column, -1 if it is not there */
    struct marks *out;
    size_t room;
    struct tc_problem *why;
    const struct tc_watch *watch; /* may be NULL */
};

/* Rows between two calls of the watch. */
enum { ROWS_APART = 8192 };

static enum tc_status complain(struct reader *r, const char *what, const char *cell,
                               const char *right)
{
    char plain[80];
    return problem_set(r->why, TC_ERR_FORM, "%s:%ld: %s '%s' is not %s", r->file, csv_line(r->csv),
                       what, text_plain(plain, sizeof plain, cell), right);
}

static const char *cell(const struct reader *r, enum column c)
{
    return r->at[c] < 0 ? "" : csv_word(r->csv, (size_t)r->at[c]);
}

/* A number in bounds; an empty cell leaves *out as it is. */
static enum tc_status number(struct reader *r, enum column c, const char *what, double least,
                             double most, double *out)
{
    const char *text = cell(r, c);
    if (!*text) return TC_OK;
    double v;
    if (csv_number(r->csv, (size_t)r->at[c], &v) && v >= least && v <= most) {
        *out = v;
        return TC_OK;
    }
    char right[64];
    snprintf(right, sizeof right, "a number from %s to %s", SHOWN(least, 6), SHOWN(most, 6));
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

static float to_hundredth(double x)
{
    return (float)(floor(x * 100 + 0.5) / 100);
}

#define LONGEST_S 1e6 /* eleven days */

static enum tc_status read_path(struct reader *r, struct tc_event *e)
{
    const char *text = cell(r, PATH);
    while (*text) {
        size_t digits = strspn(text, "0123456789"), gap = strspn(text + digits, " ;,");
        int64_t n = 0;
        char number[8];
        snprintf(number, sizeof number, "%.*s", (int)digits, text);
        bool good = digits && digits < sizeof number && number_read_whole(number, &n) && n >= 1 && n <= TC_MAX_CHANNELS;
        if (!good || (text[digits] && !gap) || e->path_count == TC_PATH_MAX_CHANNELS)
            return complain(r, "path", cell(r, PATH), "up to 16 channel numbers separated by spaces");
        e->path[e->path_count++] = (uint16_t)n;
        text += digits + gap;
    }
    return TC_OK;
}

/* What the file was made with stands in every row, so that rows can be deleted,
 * sorted and added at will; the highest holds where they differ. */
static enum tc_status read_making(struct reader *r)
{
    double sensitivity = -1;
    int rate = 0;
    enum tc_status status = number(r, SENSITIVITY, "sensitivity", 0, 100, &sensitivity);
    if (status == TC_OK) status = whole(r, FRAME_RATE, "frame_rate", 1, 120, &rate);
    if (sensitivity > r->out->sensitivity) r->out->sensitivity = sensitivity;
    if (rate > r->out->frame_rate) r->out->frame_rate = rate;
    return status;
}

static enum tc_status add(struct reader *r, const struct label *l)
{
    struct marks *m = r->out;
    if (m->count == r->room) {
        size_t room = r->room ? 2 * r->room : 64;
        struct label *more = memory_resize(m->labels, room * sizeof *more);
        if (!more) return problem_say(r->why, TC_ERR_MEMORY);
        m->labels = more;
        r->room = room;
    }
    m->labels[m->count++] = *l;
    return TC_OK;
}

static enum tc_status read_row(struct reader *r)
{
    struct label l = { .line = csv_line(r->csv) };
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
    if (status == TC_OK) status = read_making(r);
    if (status != TC_OK) return status;
    if (e->kind == TC_CRACK) end = peak = start; /* a moment: they go with it where it is moved by hand */
    if (end < start) return complain(r, "end_s", cell(r, END), "at or after start_s");
    if (e->kind == TC_RUMBLE && !*cell(r, END))
        return complain(r, "end_s", "", "a time in seconds, which a rumble needs");

    if (peak < start || !*cell(r, PEAK)) peak = start;
    if (peak > end) peak = end;
    e->start_ms = seconds_ms(start);
    e->end_ms = seconds_ms(end);
    e->peak_ms = seconds_ms(peak);
    e->strength = to_hundredth(strength);
    e->sharpness = to_hundredth(sharpness);
    e->level_dbfs = (float)level;

    return add(r, &l);
}

/* ---- Columns ---- */

/* How many slips of the keyboard make another word of it. */
static size_t slips(const char *name)
{
    size_t length = strlen(name);
    return length < 5 ? 1 : length < 8 ? 2 : 3;
}

/* The known column that was probably meant, or NULL. */
static const char *nearest(const char *cell)
{
    char word[34];
    size_t length = strlen(cell);
    if (length >= sizeof word) return NULL;
    for (size_t i = 0; i <= length; i++) word[i] = (char)(cell[i] >= 'A' && cell[i] <= 'Z' ? cell[i] + 32 : cell[i]);
    for (size_t edits = 1; edits <= 3; edits++)
        for (size_t n = 0; n < sizeof names / sizeof *names; n++)
            if (edits <= slips(names[n].name) && text_distance(word, names[n].name) == edits) return names[n].name;
    return NULL;
}

static enum tc_status unknown_column(struct reader *r, const char *cell)
{
    char plain[40];
    const char *near = nearest(cell);
    text_plain(plain, sizeof plain, cell);
    if (near)
        return problem_set(r->why, TC_ERR_FORM, "%s:%ld: there is no column '%s'; did you mean %s?", r->file,
                           csv_line(r->csv), plain, near);
    char *remark = r->out->remark;
    size_t used = strlen(remark), size = sizeof r->out->remark;
    if (used + 60 < size)
        snprintf(remark + used, size - used, "%s%s", used ? ", " : "columns that are not known were passed over: ",
                 plain);
    return TC_OK;
}

static enum tc_status read_head(struct reader *r)
{
    enum tc_status status = TC_OK;
    for (int c = 0; c < COLUMNS; c++) r->at[c] = -1;
    for (size_t i = 0; i < csv_count(r->csv) && status == TC_OK; i++) {
        const char *cell = csv_word(r->csv, i);
        size_t n = 0;
        while (n < sizeof names / sizeof *names && !text_same(cell, names[n].name)) n++;
        if (n == sizeof names / sizeof *names) {
            if (*cell) status = unknown_column(r, cell);
        } else if (r->at[names[n].column] >= 0) {
            status = problem_set(r->why, TC_ERR_FORM, "%s:%ld: the column %s is there twice", r->file, csv_line(r->csv),
                                 names[n].name);
        } else {
            r->at[names[n].column] = (int)i;
        }
    }
    if (r->at[KIND] >= 0 && r->at[START] >= 0) return status;
    if (status != TC_OK && (r->at[KIND] >= 0 || r->at[START] >= 0)) return status;
    return problem_set(r->why, TC_ERR_FORM, "%s:%ld: the first row must name the columns, at least kind,start_s",
                       r->file, csv_line(r->csv));
}

static int by_start(const void *left, const void *right)
{
    const struct label *one = left, *other = right;
    const struct tc_event *a = &one->event, *b = &other->event;
    if (a->start_ms != b->start_ms) return a->start_ms < b->start_ms ? -1 : 1;
    if (a->kind != b->kind) return (int)a->kind - (int)b->kind;
    if (a->end_ms != b->end_ms) return a->end_ms < b->end_ms ? -1 : 1;
    return (one->line > other->line) - (one->line < other->line); /* no order left to qsort */
}

static enum tc_status read_rows(struct reader *r)
{
    enum tc_status status = TC_OK;
    bool head = false;
    size_t rows = 0;
    enum csv_result row = CSV_ROW;
    while (status == TC_OK && (row = csv_next(r->csv)) == CSV_ROW) {
        status = head ? read_row(r) : read_head(r);
        head = true;
        if (status == TC_OK && ++rows % ROWS_APART == 0 && watch_tell(r->watch, csv_share(r->csv)) != TC_OK)
            status = problem_say(r->why, TC_ERR_STOPPED);
    }
    if (status != TC_OK) return status;
    if (row == CSV_MEMORY) return problem_say(r->why, TC_ERR_MEMORY);
    if (row != CSV_END)
        return problem_set(r->why, TC_ERR_FORM, "%s:%ld: %s", r->file, csv_line(r->csv),
                           csv_result_text(row));
    if (!head)
        return problem_set(r->why, TC_ERR_FORM, "%s: is empty; it needs a row kind,start_s,...", r->file);
    return TC_OK;
}

enum tc_status marks_read_watched(const char *text, size_t size, const char *shown, const struct tc_watch *watch,
                                  struct marks *out, struct tc_problem *why)
{
    *out = (struct marks){ .sensitivity = -1 };
    struct reader r = { .out = out, .why = why, .watch = watch };
    text_plain(r.file, sizeof r.file, shown);
    r.csv = csv_open(text, size);
    enum tc_status status = r.csv ? read_rows(&r) : problem_say(why, TC_ERR_MEMORY);
    csv_close(r.csv);
    if (status != TC_OK) marks_clear(out);
    else if (out->count) qsort(out->labels, out->count, sizeof *out->labels, by_start);
    return status;
}

enum tc_status marks_read(const char *text, size_t size, const char *shown, struct marks *out,
                          struct tc_problem *why)
{
    return marks_read_watched(text, size, shown, NULL, out, why);
}

void marks_clear(struct marks *m)
{
    memory_free(m->labels);
    *m = (struct marks){ .sensitivity = -1 };
}
