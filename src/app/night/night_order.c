#include "app/night/night_order.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "io/process/time_of_day.h"
#include "io/sound/joined_sound.h"
#include "words/csv.h"
#include "words/numbers.h"
#include "words/sink.h"
#include "words/status.h"
#include "words/text.h"

enum column { START, END, FILE_NAME, GAIN, SEED, STORM, CLOCK, WHOLE_END, COLUMNS };
static const char *const names[COLUMNS] = { "start_s", "end_s", "file", "gain_db", "seed", "storm", "clock", "whole_end_s" };
enum { LONGEST_S = 24 * 3600, WHOLE_END_MOST_S = 1000000000, GAIN_LEAST_DB = -100, STORMS_MOST = 100000,
       TURNS_MOST = 100000 };

/* ---- Clips by name ---- */

bool night_list_find(const struct night_list *list, const char *file, size_t *clip, char *text, size_t size)
{
    char plain[200], near[200];
    size_t least = *file ? 2 + strlen(file) / 3 : 0, nearest = list->count;
    for (*clip = 0; *clip < list->count; ++*clip) {
        if (!strcmp(list->files[*clip], file)) return true;
        size_t d = text_farness(file, list->files[*clip]);
        if (d < least) least = d, nearest = *clip;
    }
    int used = snprintf(text, size, "'%s' is none of the folder's recordings that can be heard",
                        text_plain(plain, sizeof plain, file));
    if (nearest < list->count && used > 0 && (size_t)used < size)
        snprintf(text + used, size - (size_t)used, "; did you mean '%s'?",
                 text_plain(near, sizeof near, list->files[nearest]));
    return false;
}

/* ---- Writing ---- */

enum tc_status night_order_write(const struct night_plan *p, const struct night_list *list, struct night_ground ground,
                                 struct tc_sink to)
{
    struct writer w;
    writer_begin(&w, to);
    for (int c = 0; c < COLUMNS; c++) {
        if (c) writer_text(&w, ",");
        writer_text(&w, names[c]);
    }
    writer_text(&w, "\r\n");
    for (size_t i = 0; i < p->count; i++) {
        const struct night_turn *t = &p->turns[i];
        writer_fixed(&w, t->start_ms, 3);
        writer_text(&w, ",");
        writer_fixed(&w, t->end_ms, 3);
        writer_text(&w, ",");
        writer_cell(&w, list->files[t->clip], true);
        writer_text(&w, ",");
        writer_fixed(&w, llround(10 * t->gain_db), 1);
        writer_text(&w, ",");
        writer_fixed(&w, ground.seed, 0);
        writer_text(&w, ",");
        if (t->storm) writer_fixed(&w, t->storm, 0);
        writer_text(&w, ",");
        if (ground.day_s != NIGHT_NO_DAY) writer_text(&w, NIGHT_CLOCK(t->start_ms, ground.day_s));
        writer_text(&w, ",");
        writer_fixed(&w, t->start_ms + list->clips[t->clip].length_ms, 3);
        writer_text(&w, "\r\n");
    }
    return writer_end(&w);
}

/* ---- Reading ---- */

struct row {
    struct night_turn turn;
    long line;
    int day_s;             /* when the evening starts by its clock; NIGHT_NO_DAY without one */
};

struct reading {
    struct csv *csv;
    char shown[300];
    const struct night_list *list;
    struct row *rows;
    size_t count, room;
    struct night_ground *ground;
    int64_t ends[JOINED_VOICES_MOST]; /* of the clips that sound at the row's start */
    size_t sounding;
    int place[COLUMNS];    /* -1 = not there */
    struct tc_problem *why;
};

static enum tc_status no_memory(struct reading *r)
{
    return problem_say(r->why, TC_ERR_MEMORY);
}

static enum tc_status wrong_at(struct reading *r, long line, const char *column, const char *what)
{
    return problem_set(r->why, TC_ERR_FORM, "%s: line %ld: %s: %s", r->shown, line, column, what);
}

static enum tc_status wrong(struct reading *r, const char *column, const char *what)
{
    return wrong_at(r, csv_line(r->csv), column, what);
}

static const char *cell(struct reading *r, enum column c)
{
    return r->place[c] < 0 ? "" : csv_word(r->csv, (size_t)r->place[c]);
}

static enum tc_status read_head(struct reading *r)
{
    for (int c = 0; c < COLUMNS; c++) {
        r->place[c] = -1;
        for (size_t i = 0; i < csv_count(r->csv); i++)
            if (text_same(csv_word(r->csv, i), names[c])) r->place[c] = (int)i;
    }
    if (r->place[START] < 0) return wrong(r, "start_s", "there is no such column in the header row");
    if (r->place[FILE_NAME] < 0) return wrong(r, "file", "there is no such column in the header row");
    return TC_OK;
}

/* A number within bounds; `value` stays where the cell is empty. */
static enum tc_status number(struct reading *r, enum column c, double least, double most, double *value)
{
    char text[200], plain[60];
    if (!*cell(r, c)) return TC_OK;
    if (csv_number(r->csv, (size_t)r->place[c], value) && *value >= least && *value <= most) return TC_OK;
    snprintf(text, sizeof text, "'%s' is not a number%s from %s to %s", text_plain(plain, sizeof plain, cell(r, c)),
             c == START || c == END ? " of seconds" : "", SHOWN(least, 6), SHOWN(most, 6));
    return wrong(r, names[c], text);
}

static enum tc_status find_file(struct reading *r, size_t *clip)
{
    char text[500];
    bool found = night_list_find(r->list, csv_unguarded(cell(r, FILE_NAME)), clip, text, sizeof text);
    return found ? TC_OK : wrong(r, "file", text);
}

/* When the evening starts, by this row's clock. */
static enum tc_status read_clock(struct reading *r, struct row *row)
{
    row->day_s = NIGHT_NO_DAY;
    if (!*cell(r, CLOCK)) return TC_OK;
    int clock_s = time_of_day_read(cell(r, CLOCK));
    if (clock_s < 0) return wrong(r, names[CLOCK], "is not a time of day like 19:30:00");
    int into = (int)((row->turn.start_ms + 500) / 1000 % NIGHT_DAY_S);
    row->day_s = (clock_s + NIGHT_DAY_S - into) % NIGHT_DAY_S;
    return TC_OK;
}

static enum tc_status read_gain(struct reading *r, struct night_turn *t)
{
    double most = r->list->gain_most_db[t->clip], db;
    t->gain_db = r->list->gain_db[t->clip];
    if (*cell(r, GAIN) && csv_number(r->csv, (size_t)r->place[GAIN], &db) && db > most) {
        char plain[200], text[300];
        snprintf(text, sizeof text, "%s is too loud for %s (at most %s); leave it empty to have it measured",
                 SHOWN(db, 6),
                 text_plain(plain, sizeof plain, r->list->files[t->clip]), SHOWN(most, 6));
        return wrong(r, names[GAIN], text);
    }
    enum tc_status status = number(r, GAIN, GAIN_LEAST_DB, most, &t->gain_db);
    t->gain_db = floor(10 * t->gain_db + 0.5) / 10;
    return status;
}

/* An end that is still where the whole clip ended goes with a start that was moved. */
static enum tc_status read_times(struct reading *r, struct night_turn *t)
{
    double start = -1, end = LONGEST_S, whole_end = -1;
    if (!*cell(r, START)) return wrong(r, "start_s", "says nothing");
    enum tc_status status = number(r, START, 0, LONGEST_S, &start);
    if (status == TC_OK) status = number(r, END, 0, LONGEST_S, &end);
    if (status == TC_OK) status = number(r, WHOLE_END, 0, WHOLE_END_MOST_S, &whole_end);
    if (status != TC_OK) return status;
    t->start_ms = llround(1000 * start);
    t->end_ms = llround(1000 * end);
    int64_t whole = t->start_ms + r->list->clips[t->clip].length_ms;
    if (t->end_ms > whole || t->end_ms == llround(1000 * whole_end)) t->end_ms = whole;
    if (t->end_ms > 1000 * (int64_t)LONGEST_S) t->end_ms = 1000 * (int64_t)LONGEST_S;
    return t->end_ms > t->start_ms ? TC_OK : wrong(r, "end_s", "is not after start_s");
}

static enum tc_status add_row(struct reading *r, struct row row)
{
    if (r->count == TURNS_MOST) return wrong(r, "start_s", "there are too many rows");
    if (r->count == r->room) {
        size_t room = 2 * r->room + 64;
        struct row *rows = realloc(r->rows, room * sizeof *rows);
        if (!rows) return no_memory(r);
        r->rows = rows;
        r->room = room;
    }
    row.line = csv_line(r->csv);
    r->rows[r->count++] = row;
    return TC_OK;
}

static enum tc_status read_row(struct reading *r)
{
    struct row row = { .day_s = NIGHT_NO_DAY };
    double storm = 0;
    enum tc_status status = find_file(r, &row.turn.clip);
    if (status == TC_OK) status = read_times(r, &row.turn);
    if (status == TC_OK) status = read_gain(r, &row.turn);
    if (status == TC_OK) status = number(r, STORM, 0, STORMS_MOST, &storm);
    if (status != TC_OK) return status;
    row.turn.storm = (int)storm;
    if (*cell(r, SEED) && !number_read_whole(cell(r, SEED), &r->ground->seed))
        return wrong(r, "seed", "is not a whole number");
    status = read_clock(r, &row);
    return status == TC_OK ? add_row(r, row) : status;
}

/* ---- All rows together ---- */

static int by_start(const void *left, const void *right)
{
    const struct row *a = left, *b = right;
    if (a->turn.start_ms != b->turn.start_ms) return a->turn.start_ms < b->turn.start_ms ? -1 : 1;
    return (a->line > b->line) - (a->line < b->line);
}

/* True if there is no room for one more clip at once. */
static bool crowded(struct reading *r, const struct night_turn *t)
{
    size_t kept = 0;
    for (size_t i = 0; i < r->sounding; i++)
        if (r->ends[i] > t->start_ms) r->ends[kept++] = r->ends[i];
    r->sounding = kept;
    if (kept == JOINED_VOICES_MOST) return true;
    r->ends[r->sounding++] = t->end_ms;
    return false;
}

/* The start of the evening on which most clocks agree: a row that was moved keeps its old one. */
static enum tc_status agree_on_start(struct reading *r)
{
    size_t *agree = calloc(NIGHT_DAY_S, sizeof *agree), clocks = 0, most = 0;
    if (!agree) return no_memory(r);
    for (size_t i = 0; i < r->count; i++) {
        if (r->rows[i].day_s == NIGHT_NO_DAY) continue;
        clocks++;
        agree[r->rows[i].day_s]++;
    }
    for (size_t i = 0; i < r->count; i++) {
        int day_s = r->rows[i].day_s;
        if (day_s == NIGHT_NO_DAY || agree[day_s] <= most) continue;
        most = agree[day_s];
        r->ground->day_s = day_s;
    }
    r->ground->clocks_off = clocks - most;
    free(agree);
    return TC_OK;
}

static enum tc_status make_plan(struct reading *r, struct night_plan *p)
{
    if (!r->count) return problem_set(r->why, TC_ERR_FORM, "%s: there is no clip in it", r->shown);
    qsort(r->rows, r->count, sizeof *r->rows, by_start);
    for (size_t i = 0; i < r->count; i++) {
        const struct row *row = &r->rows[i];
        if (crowded(r, &row->turn))
            return wrong_at(r, row->line, "start_s", "more clips would sound at once here than the eight that may");
        if (night_plan_add(p, row->turn) != TC_OK) return no_memory(r);
    }
    return agree_on_start(r);
}

enum tc_status night_order_read(const char *text, size_t size, const char *shown, const struct night_list *list,
                                struct night_plan *out, struct night_ground *ground, struct tc_problem *why)
{
    *out = (struct night_plan){ 0 };
    struct reading r = { .csv = csv_open(text, size), .list = list, .ground = ground, .why = why };
    if (!r.csv) return no_memory(&r);
    text_plain(r.shown, sizeof r.shown, shown);
    enum tc_status status = TC_OK;
    enum csv_result got = CSV_END;
    for (bool head = true; status == TC_OK && (got = csv_next(r.csv)) == CSV_ROW; head = false)
        status = head ? read_head(&r) : read_row(&r);
    if (status == TC_OK && got != CSV_END) status = wrong(&r, "row", csv_result_text(got));
    if (status == TC_OK) status = make_plan(&r, out);
    csv_close(r.csv);
    free(r.rows);
    if (status != TC_OK) night_plan_clear(out);
    return status;
}
