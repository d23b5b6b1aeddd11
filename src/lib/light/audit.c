#include "light/audit.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "light/audit_columns.h"
#include "light/audit_reading.h"
#include "light/flash_count.h"
#include "rig/load.h"
#include "words/csv.h"
#include "words/memory.h"
#include "words/numbers.h"
#include "words/status.h"
#include "words/text.h"
#include "words/units.h"
#include "words/watch.h"

/* Levels are taken in hundredths of a percent, finer than any dimmer. */
enum { FULL_PERCENT = 10000, FULL_8BIT = 255 };

/* Times are written to the millisecond, so steps differ by as much. */
#define STEP_SLACK_US 1001
/* Rows between two calls of the watch. */
enum { ROWS_APART = 4096 };

static enum tc_status no_memory(struct audit_reading *r)
{
    return problem_say(r->why, TC_ERR_MEMORY);
}

/* ---- The unit ---- */

/* Reads ahead until a cell settles it: a level above 100 means 0..255, a broken
 * one above 1 percent. Where no level is above 1, they are 0..1; whole numbers up
 * to 100 are percent. Of two readings the brighter one is taken, so that nothing
 * is counted too low. */
static enum tc_status guess_unit(struct audit_reading *r)
{
    r->out->unit = r->job->unit;
    if (r->job->unit != AUDIT_GUESS) return TC_OK;
    struct csv *csv = csv_open_text(r->text);
    if (!csv) return no_memory(r);
    double highest = 0;
    bool settled = false;
    size_t time = csv_next(csv) == CSV_ROW ? audit_time_column(csv) : 0;
    while (!settled && csv_next(csv) == CSV_ROW)
        for (size_t i = 0; i < csv_count(csv) && !settled; i++) {
            double level;
            if (i == time || !csv_number(csv, i, &level)) continue;
            bool broken = strpbrk(csv_word(csv, i), ".,") != NULL; /* steps of 255 are whole */
            settled = level > 1 && (level > 100 || broken);
            if (level > highest) highest = settled && broken ? 100 : level;
        }
    csv_close(csv);
    r->out->unit = highest > 100 ? AUDIT_8BIT : highest > 0 && highest <= 1 ? AUDIT_UNIT : AUDIT_PERCENT;
    return TC_OK;
}

/* What the unit's levels go up to. */
static double unit_top(enum audit_unit unit)
{
    return unit == AUDIT_8BIT ? 255 : unit == AUDIT_UNIT ? 1 : 100;
}

/* ---- Flashes ---- */

/* Without a rig nobody knows how much of the light a column is, so each is also
 * counted as if it were all of it. */
static enum tc_status count_alone(struct audit_reading *r)
{
    r->lamp = (struct tc_channel){ .number = 1, .kind = TC_BRANCH, .parent = -1, .group = -1, .circuit = -1,
                                   .max_level = 100 };
    r->lone = (struct tc_rig){ .channels = &r->lamp, .channel_count = 1 };
    enum tc_status status = TC_OK;
    if (!r->out->own_rig || !r->job->limit) return TC_OK;
    r->alone = memory_new(r->out->rig.channel_count, sizeof *r->alone);
    if (!r->alone) return TC_ERR_MEMORY;
    for (size_t c = 0; c < r->out->rig.channel_count && status == TC_OK; c++)
        status = flash_counter_create(&r->alone[c], &r->lone, r->full, r->job->limit);
    return status;
}

static void count_flashes(struct audit_reading *r, int64_t at_us)
{
    flash_counter_step(r->flash, r->levels, at_us);
    for (size_t c = 0; r->alone && c < r->out->rig.channel_count; c++)
        flash_counter_step(r->alone[c], &r->levels[c], at_us);
}

static void report_flashes(struct audit_reading *r)
{
    struct audit *a = r->out;
    flash_counter_report(r->flash, &a->flash);
    for (size_t c = 0; r->alone && c < a->rig.channel_count; c++) {
        struct flash_report one;
        flash_counter_report(r->alone[c], &one);
        if (one.peak_transitions <= a->alone.peak_transitions) continue;
        a->alone = one;
        a->alone_channel = c;
    }
}

static enum tc_status prepare(struct audit_reading *r)
{
    struct audit *a = r->out;
    const struct tc_rig *rig = r->job->rig;
    if (!rig && r->job->perhaps && audit_columns_suit(r, r->job->perhaps)) rig = r->job->perhaps;
    size_t channels = rig ? rig->channel_count : r->columns - 1;
    r->channel_of = memory_new(r->columns, sizeof *r->channel_of);
    r->levels = memory_new(channels + 1, sizeof *r->levels);
    a->lit = memory_new(channels + 1, sizeof *a->lit);
    a->at_peak = memory_new(channels + 1, sizeof *a->at_peak);
    if (!r->channel_of || !r->levels || !a->lit || !a->at_peak) return no_memory(r);
    enum tc_status status = TC_OK;
    if (rig) {
        a->rig = *rig;
        r->numbered = audit_columns_are_outputs(r, rig);
        audit_match_rig(r);
    } else {
        status = audit_make_rig(r);
    }
    a->levels_count = r->columns - 1;
    r->full = a->unit == AUDIT_8BIT ? FULL_8BIT : FULL_PERCENT;
    if (status == TC_OK) status = flash_counter_create(&r->flash, &a->rig, r->full, r->job->limit);
    if (status == TC_OK) status = count_alone(r);
    if (status == TC_OK) status = load_meter_create(&r->load, &a->rig, r->full);
    return status == TC_OK ? status : no_memory(r);
}

/* ---- Rows ---- */

/* A level as it is written, told by the dimmer's unit. */
static void remark_level(struct audit_reading *r, size_t column, double level, double top)
{
    char number[32];
    bool outside = level < 0 || level > top, broken = r->out->unit == AUDIT_8BIT && fmod(level, 1) != 0;
    if (!outside && !broken) return;
    number_show(number, sizeof number, level, 10);
    if (outside) audit_note(r, AUDIT_RANGE, column + 1, "level %s is outside 0 to %.0f", number, top);
    else audit_note(r, AUDIT_RANGE, column + 1, "level %s is not a whole number from 0 to 255", number);
}

static void take_level(struct audit_reading *r, size_t column)
{
    size_t channel = r->channel_of[column];
    enum audit_unit unit = r->out->unit;
    double top = unit_top(unit), level;
    char plain[40], number[32], limit[32];
    if (!csv_number(r->csv, column, &level)) {
        audit_note(r, AUDIT_FORM, column + 1, "'%s' is not a number; a level is %s",
               text_plain(plain, sizeof plain, csv_get(r->csv, column)),
               unit == AUDIT_PERCENT ? "0.0 to 100.0" : unit == AUDIT_UNIT ? "0.0 to 1.0" : "0 to 255");
        return; /* the level of the row before stands */
    }
    remark_level(r, column, level, top);
    level = level < 0 ? 0 : level > top ? top : level;
    if (channel == NO_CHANNEL) {
        if (r->numbered && level > 0)
            audit_note_misfit(r, column + 1, "level %s on an output that has no channel in the rig",
                              number_show(number, sizeof number, level, 10));
        return;
    }
    double most = r->out->rig.channels[channel].max_level * top / 100;
    double rounding = unit == AUDIT_8BIT ? 0.999 : 0.00051 * top; /* of the last digit */
    if (level > most + rounding)
        audit_note(r, AUDIT_RANGE, column + 1, "level %s is above the channel's max_level, which is %s here",
               number_show(number, sizeof number, level, 10), number_show(limit, sizeof limit, most, 10));
    r->levels[channel] = (uint16_t)(level / top * r->full + 0.5);
}

/* True if the row's time can be used; *at_us then follows the last one. */
static bool take_time(struct audit_reading *r, int64_t *at_us)
{
    struct audit *a = r->out;
    const char *cell = csv_get(r->csv, r->time);
    char plain[40], number[32], other[32];
    double seconds;
    if (!csv_number(r->csv, r->time, &seconds) || seconds < 0 || seconds > 1e9) {
        audit_note(r, AUDIT_FORM, r->time + 1, "'%s' is not a time in seconds", text_plain(plain, sizeof plain, cell));
        return false;
    }
    *at_us = (int64_t)(seconds * SECOND_US + 0.5);
    if (!a->rows) {
        a->start_us = *at_us;
        return true;
    }
    int64_t step = *at_us - a->end_us;
    if (step <= 0) {
        audit_note(r, AUDIT_TIME, r->time + 1, "time %s s is not after %s s, the row before",
               number_show(number, sizeof number, seconds, 10),
               number_show(other, sizeof other, (double)a->end_us / SECOND_US, 10));
        return false;
    }
    if (a->rows == 1) a->step_us = step;
    else if (llabs(step - a->step_us) > STEP_SLACK_US)
        audit_note(r, AUDIT_TIME, r->time + 1, "a step of %s ms where the others are %s ms",
               number_show(number, sizeof number, (double)step / 1e3, 10),
               number_show(other, sizeof other, (double)a->step_us / 1e3, 10));
    return true;
}

static void take_row(struct audit_reading *r)
{
    struct audit *a = r->out;
    size_t cells = csv_count(r->csv);
    int64_t at_us;
    if (cells != r->columns)
        audit_note(r, AUDIT_FORM, 0, "%zu cells where the header row has %zu", cells, r->columns);
    if (!take_time(r, &at_us)) return;
    for (size_t i = 0; i < r->columns && i < cells; i++)
        if (i != r->time) take_level(r, i);
    a->ends_dark = true;
    for (size_t c = 0; c < a->rig.channel_count; c++) {
        if (!r->levels[c]) continue;
        a->lit[c] = true;
        a->ends_dark = false;
    }
    if (r->job->row) r->job->row(r->job->row_user, at_us, r->levels, r->full);
    count_flashes(r, at_us);
    load_meter_step(r->load, r->levels, at_us / 1000);
    a->end_us = at_us;
    a->rows++;
}

/* Reads the header row; not *usable if there is none or it is of no use. */
static enum tc_status take_header(struct audit_reading *r, bool *usable)
{
    enum csv_result result = csv_next(r->csv);
    char plain[40];
    *usable = false;
    if (result == CSV_MEMORY) return no_memory(r);
    if (result != CSV_ROW) {
        audit_note(r, AUDIT_FORM, 0, "%s", result == CSV_END ? "the file is empty" : csv_result_text(result));
        return TC_OK;
    }
    const char *other = audit_other_table(r->csv, r->job->others);
    if (other) {
        r->out->other_table = other;
        audit_note(r, AUDIT_FORM, 0,
                   "this is %s; what can be checked is a frames file: time_s, then a column for each channel", other);
        return TC_OK;
    }
    r->columns = csv_count(r->csv);
    r->time = audit_time_column(r->csv);
    if (!text_same(csv_word(r->csv, r->time), "time_s"))
        audit_note(r, AUDIT_FORM, 1, "'%s' where the header row begins with time_s",
               text_plain(plain, sizeof plain, csv_get(r->csv, 0)));
    *usable = r->columns >= 2 && r->columns <= TC_MAX_CHANNELS + 1;
    if (!*usable)
        audit_note(r, AUDIT_FORM, 0, "%zu columns of levels; 1 to %d can be audited", r->columns - 1, TC_MAX_CHANNELS);
    return TC_OK;
}

static enum tc_status read_rows(struct audit_reading *r)
{
    for (;;) {
        enum csv_result result = csv_next(r->csv);
        if (result == CSV_END) return TC_OK;
        if (result == CSV_MEMORY) return no_memory(r);
        if (result != CSV_ROW) {
            audit_note(r, AUDIT_FORM, 0, "%s; nothing after it was read", csv_result_text(result));
            return TC_OK;
        }
        take_row(r);
        if (r->out->rows % ROWS_APART == 0 && watch_tell(r->job->watch, csv_share(r->csv)) != TC_OK)
            return problem_say(r->why, TC_ERR_STOPPED);
    }
}

/* ---- The seam of a loop ---- */

/* Plays the beginning once more after the end, for more than a second. Form
 * and load are known already; only the counter looks. */
static enum tc_status play_seam(struct audit_reading *r)
{
    struct audit *a = r->out;
    int64_t step = a->step_us > 0 ? a->step_us : SECOND_US;
    int64_t lap = a->end_us - a->start_us + step;
    r->quiet = true;
    for (int64_t laps = 1; (laps - 1) * lap <= SECOND_US; laps++) {
        csv_close(r->csv);
        r->csv = NULL;
        if (!(r->csv = csv_open_text(r->text))) return no_memory(r);
        if (csv_next(r->csv) != CSV_ROW) return TC_OK;
        double last = -1, seconds;
        while (csv_next(r->csv) == CSV_ROW) {
            if (!csv_number(r->csv, r->time, &seconds) || seconds <= last || seconds < 0 || seconds > 1e9)
                continue;
            last = seconds;
            int64_t at_us = (int64_t)(seconds * SECOND_US + 0.5);
            if ((laps - 1) * lap + at_us - a->start_us > SECOND_US) break;
            for (size_t i = 0; i < r->columns && i < csv_count(r->csv); i++)
                if (i != r->time) take_level(r, i);
            count_flashes(r, laps * lap + at_us);
        }
    }
    return TC_OK;
}

/* ---- The whole ---- */

static void sum_up(struct audit_reading *r)
{
    struct audit *a = r->out;
    report_flashes(r);
    load_meter_report(r->load, &a->load);
    for (size_t c = 0; c < a->rig.channel_count; c++) {
        a->never_lit += !a->lit[c];
        a->at_peak[c] = flash_counter_peak_channel(r->flash, c);
    }
    if (!a->rows) audit_note(r, AUDIT_FORM, 0, "there is no row of levels after the header row");
}

enum tc_status audit_run(const struct audit_job *job, const char *text, size_t size, struct audit *out,
                         struct tc_problem *why)
{
    return audit_run_text(job, &(struct csv_text){ .bytes = text, .size = (int64_t)size }, out, why);
}

enum tc_status audit_run_text(const struct audit_job *job, const struct csv_text *text, struct audit *out,
                              struct tc_problem *why)
{
    memset(out, 0, sizeof *out);
    struct audit_reading r = { .job = job, .out = out, .why = why, .text = text };
    enum tc_status status = guess_unit(&r);
    if (status == TC_OK && !(r.csv = csv_open_text(text))) status = no_memory(&r);
    bool usable = false;
    if (status == TC_OK) status = take_header(&r, &usable);
    if (status == TC_OK && usable) {
        status = prepare(&r);
        if (status == TC_OK) status = read_rows(&r);
        if (status == TC_OK && job->loop && out->rows) status = play_seam(&r);
        if (status == TC_OK) sum_up(&r);
    }
    csv_close(r.csv);
    flash_counter_destroy(r.flash);
    for (size_t c = 0; r.alone && c < out->rig.channel_count; c++) flash_counter_destroy(r.alone[c]);
    memory_free(r.alone);
    load_meter_destroy(r.load);
    memory_free(r.channel_of);
    memory_free(r.levels);
    return status;
}
