#include "app/night_order.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "io/joined_sound.h"
#include "io/trigger.h"
#include "words/csv.h"
#include "words/numbers.h"
#include "words/sink.h"
#include "words/status.h"
#include "words/text.h"

enum column { START, END, FILE_NAME, GAIN, SEED, STORM, CLOCK, COLUMNS };
static const char *const names[COLUMNS] = { "start_s", "end_s", "file", "gain_db", "seed", "storm", "clock" };
enum { LONGEST_S = 24 * 3600, GAIN_LEAST_DB = -100, STORMS_MOST = 100000, TURNS_MOST = 100000 };

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
        writer_text(&w, "\r\n");
    }
    return writer_end(&w);
}

/* ---- Reading ---- */

struct reading {
    struct csv *csv;
    char shown[300];
    const struct night_list *list;
    struct night_plan *plan;
    struct night_ground *ground;
    int64_t ends[JOINED_VOICES_MOST]; /* of the clips that sound at the row's start */
    size_t sounding;
    int place[COLUMNS];    /* -1 = not there */
    struct tc_problem *why;
};

static enum tc_status wrong(struct reading *r, const char *column, const char *what)
{
    return problem_set(r->why, TC_ERR_FORM, "%s: line %ld: %s: %s", r->shown, csv_line(r->csv), column, what);
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
    char text[120];
    if (!*cell(r, c)) return TC_OK;
    if (csv_number(r->csv, (size_t)r->place[c], value) && *value >= least && *value <= most) return TC_OK;
    snprintf(text, sizeof text, "is not a number from %s to %s", SHOWN(least, 6), SHOWN(most, 6));
    return wrong(r, names[c], text);
}

static enum tc_status find_file(struct reading *r, size_t *clip)
{
    char plain[200], text[300];
    const char *file = cell(r, FILE_NAME);
    if (file[0] == '\'' && file[1] && strchr("=+-@", file[1])) file++; /* kept spreadsheets from taking it for a formula */
    for (*clip = 0; *clip < r->list->count; ++*clip)
        if (!strcmp(r->list->files[*clip], file)) return TC_OK;
    snprintf(text, sizeof text, "'%s' is none of the folder's recordings that can be heard", text_plain(plain, sizeof plain, file));
    return wrong(r, "file", text);
}

/* When the evening starts, by the first row's clock. */
static enum tc_status read_clock(struct reading *r, const struct night_turn *t)
{
    if (!*cell(r, CLOCK)) return TC_OK;
    int day_s = trigger_time_of_day(cell(r, CLOCK));
    if (day_s < 0) return wrong(r, names[CLOCK], "is not a time of day like 19:30:00");
    int into = (int)((t->start_ms + 500) / 1000 % NIGHT_DAY_S);
    if (!r->plan->count) r->ground->day_s = (day_s + NIGHT_DAY_S - into) % NIGHT_DAY_S;
    return TC_OK;
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

static enum tc_status read_row(struct reading *r)
{
    struct night_turn t = { .storm = 0 };
    double start = -1, end = LONGEST_S, storm = 0;
    if (!*cell(r, START)) return wrong(r, "start_s", "says nothing");
    enum tc_status status = number(r, START, 0, LONGEST_S, &start);
    if (status == TC_OK) status = number(r, END, 0, LONGEST_S, &end);
    if (status == TC_OK) status = number(r, STORM, 0, STORMS_MOST, &storm);
    if (status == TC_OK) status = find_file(r, &t.clip);
    if (status != TC_OK) return status;
    t.gain_db = r->list->gain_db[t.clip];
    double most = r->list->gain_most_db[t.clip];
    status = number(r, GAIN, GAIN_LEAST_DB, most, &t.gain_db);
    if (status != TC_OK) return status;
    t.gain_db = floor(10 * t.gain_db + 0.5) / 10;
    if (*cell(r, SEED) && !number_read_whole(cell(r, SEED), &r->ground->seed)) return wrong(r, "seed", "is not a whole number");
    t.storm = (int)storm;
    t.start_ms = llround(1000 * start);
    t.end_ms = llround(1000 * end);
    status = read_clock(r, &t);
    if (status != TC_OK) return status;
    if (t.end_ms <= t.start_ms) return wrong(r, "end_s", "is not after start_s");
    int64_t whole = t.start_ms + r->list->clips[t.clip].length_ms;
    if (t.end_ms > whole) t.end_ms = whole;
    struct night_plan *p = r->plan;
    if (p->count && t.start_ms < p->turns[p->count - 1].start_ms)
        return wrong(r, "start_s", "is before that of the row above; rows go by start");
    if (crowded(r, &t)) return wrong(r, "start_s", "more clips would sound at once here than the eight that may");
    if (p->count == TURNS_MOST) return wrong(r, "start_s", "there are too many rows");
    status = night_plan_add(p, t);
    return status == TC_OK ? status : problem_set(r->why, status, "%s", tc_status_text(status));
}

enum tc_status night_order_read(const char *text, size_t size, const char *shown, const struct night_list *list,
                                struct night_plan *out, struct night_ground *ground, struct tc_problem *why)
{
    *out = (struct night_plan){ 0 };
    struct reading r = { .csv = csv_open(text, size), .list = list, .plan = out, .ground = ground, .why = why };
    if (!r.csv) return problem_set(why, TC_ERR_MEMORY, "%s", tc_status_text(TC_ERR_MEMORY));
    text_plain(r.shown, sizeof r.shown, shown);
    enum tc_status status = TC_OK;
    enum csv_result got = CSV_END;
    for (bool head = true; status == TC_OK && (got = csv_next(r.csv)) == CSV_ROW; head = false)
        status = head ? read_head(&r) : read_row(&r);
    if (status == TC_OK && got != CSV_END) status = wrong(&r, "row", csv_result_text(got));
    if (status == TC_OK && !out->count) status = problem_set(why, TC_ERR_FORM, "%s: there is no clip in it", r.shown);
    csv_close(r.csv);
    if (status != TC_OK) night_plan_clear(out);
    return status;
}
