#include "app/report/audit_report.h"

#include "app/report/cautions.h"
#include "app/report/channel_list.h"
#include "app/report/flash_words.h"
#include "app/report/values.h"
#include "rig/load.h"
#include "words/text.h"

enum { WIDTH = 100 };

static const char *const topics[AUDIT_TOPICS] = {
    [AUDIT_FORM] = "form", [AUDIT_TIME] = "time", [AUDIT_RANGE] = "range", [AUDIT_RIG] = "rig",
};

static double seconds(int64_t us)
{
    return (double)us / 1e6;
}

/* ---- For people ---- */

/* Channels as "channels 1-4, 7": those of the rig for which `which` is `wanted`. */
static void print_channels(FILE *out, const struct tc_rig *rig, const bool *which, bool wanted)
{
    char list[CHANNEL_LIST_ROOM];
    size_t count = channel_list(list, sizeof list, rig, which, wanted);
    fprintf(out, "channel%s %s", count == 1 ? "" : "s", list);
}

static const char *const unit_words[] = { "percent", "percent", "0 to 255", "0 to 1" };

static void print_head(FILE *out, const struct audit_job *job, const struct audit *a)
{
    char plain[512];
    fprintf(out, "%s: %zu rows, %zu columns of levels in %s%s", text_plain(plain, sizeof plain, job->name), a->rows,
           a->levels_count, unit_words[a->unit],
           job->unit != AUDIT_GUESS ? "" : a->unit == AUDIT_UNIT
           ? " (assumed, since none is above 1; if they are percent, say --levels percent)"
           : " (assumed; --levels says otherwise)");
    if (a->rows > 1)
        fprintf(out, ", %.3f to %.3f s, a row every %.10g ms", seconds(a->start_us), seconds(a->end_us),
               (double)a->step_us / 1000);
    putc('\n', out);
    if (!a->levels_count) return;
    if (a->own_rig)
        fprintf(out, "%s\n",
                "  rig      none given, and the columns are not those of the built-in "
                "rig: every column counts as a lamp\n"
             "           like the others, 0 to 100 linear, and no load is known. With "
             "the rig that it was made for the\n"
             "           count may be lower or higher: thundercue check --rig FILE.rig FRAMES.csv");
    else fprintf(out, "  rig      %s\n",
                 *a->rig.name ? text_plain(plain, sizeof plain, a->rig.name) : "without a name");
}

static void print_remarks(FILE *out, const struct audit *a)
{
    bool any = false;
    for (int t = 0; t < AUDIT_TOPICS; t++) {
        size_t kept = a->counts[t] < AUDIT_KEPT ? a->counts[t] : AUDIT_KEPT;
        for (size_t i = 0; i < kept; i++) {
            const struct audit_remark *m = &a->remarks[t][i];
            fprintf(out, "  %-8s line %ld", topics[t], m->line);
            if (m->column) fprintf(out, ", column %zu", m->column);
            fprintf(out, ": %s\n", m->text);
        }
        if (a->counts[t] > kept) fprintf(out, "  %-8s and %zu more\n", topics[t], a->counts[t] - kept);
        any = any || kept;
    }
    if (!any) fprintf(out, "%s\n", "  form     OK");
}

static void print_flashes(FILE *out, const struct audit *a)
{
    const struct flash_report *f = &a->flash;
    const char *half = flash_words_half(f->peak_transitions);
    fprintf(out, "  flashes  at most %.4g in any second", (double)f->peak_transitions / 2);
    if (!f->limit) fprintf(out, "%s; the flash limit is off, so no rate counts as too high", half);
    else fprintf(out, " (limit %lld%s)%s", (long long)f->limit, half,
                 !audit_flashes_too_fast(a) ? "" : a->own_rig ? ": TOO MANY, if all lamps are alike" : ": TOO MANY");
    if (f->peak_transitions) {
        fprintf(out, "\n           most in the second before %.3f s%s, %s, ", (double)f->peak_at_ms / 1000,
               f->peak_at_ms > a->end_us / 1000 ? " (across the seam of the loop)" : "", f->peak_series);
        print_channels(out, &a->rig, a->at_peak, true);
    }
    putc('\n', out);
    if (audit_cannot_tell(a)) {
        char plain[64];
        fprintf(out,
                "           CAN'T TELL WITHOUT THE RIG: channel %zu \"%s\", if it were "
                "all the light, flashes %.4g times in\n"
                "           the second before %.3f s: thundercue check --rig FILE.rig FRAMES.csv\n",
                a->alone_channel + 1,
                text_plain(plain, sizeof plain, a->rig.channels[a->alone_channel].name),
                (double)a->alone.peak_transitions / 2, (double)a->alone.peak_at_ms / 1000);
    }
    if (f->extended_ms)
        fprintf(out, "  extended %.1f s of sustained flashing (two flashes a second or more for 4 s of 5): a caution\n",
               (double)f->extended_ms / 1000);
}

static void print_light(FILE *out, const struct audit *a)
{
    fprintf(out, "  light    lit %.1f %% of the time; longest dark %.1f s; %s\n", 100 * a->load.lit_share,
           (double)a->load.longest_dark_ms / 1000, a->ends_dark ? "ends dark" : "THE LAST ROW IS NOT DARK");
    if (!a->never_lit) return;
    fputs("  unused   ", out);
    print_channels(out, &a->rig, a->lit, false);
    fprintf(out, "%s\n", a->never_lit == 1 ? " never lights" : " never light");
}

static void print_load_row(FILE *out, const char *kind, const char *name, const struct load_row *row)
{
    char plain[33];
    fprintf(out, "  %-8s %-32s all on %7.1f W, reached %7.1f W", kind, text_plain(plain, sizeof plain, name),
           row->all_on_w, row->reached_w);
    if (row->reached_w > 0) fprintf(out, " at %.3f s", (double)row->reached_at_ms / 1000);
}

static void print_load(FILE *out, const struct audit *a)
{
    if (a->own_rig) return;
    for (size_t c = 0; c < a->rig.channel_count; c++) {
        const struct tc_channel *channel = &a->rig.channels[c];
        char kind[16];
        snprintf(kind, sizeof kind, "%d", channel->number);
        print_load_row(out, kind, channel->name, &a->load.channels[c]);
        if (audit_channel_over(a, c)) fprintf(out, "; MORE THAN THE OUTPUT'S %.3g A", channel->max_amps);
        putc('\n', out);
    }
    for (size_t i = 0; i < a->rig.circuit_count; i++) {
        const struct tc_circuit *circuit = &a->rig.circuits[i];
        print_load_row(out, "circuit", circuit->name, &a->load.circuits[i]);
        fprintf(out, "; breaker %.3g A at %.3g V%s\n", circuit->breaker_amps, circuit->volts,
               circuit_over(circuit, a->load.circuits[i].all_on_w) ? "; MORE THAN 80 % OF THE BREAKER" : "");
    }
    print_load_row(out, "rig", "", &a->load.rig);
    putc('\n', out);
}

void audit_report_text(FILE *out, const struct audit_job *job, const struct audit *a)
{
    char plain[512];
    if (a->other_table) {
        fprintf(out, "%s: %s\n", text_plain(plain, sizeof plain, job->name), a->remarks[AUDIT_FORM][0].text);
        return;
    }
    print_head(out, job, a);
    if (audit_only_cannot_tell(a)) fputs("  result   CAN'T TELL WITHOUT THE RIG, see below\n", out);
    else fprintf(out, "%s\n", audit_findings(a) ? "  result   PROBLEMS FOUND, see below" : "  result   OK");
    print_remarks(out, a);
    if (a->rows) {
        print_flashes(out, a);
        print_light(out, a);
        print_load(out, a);
    }
    static const char rest[] = "           ";
    if (!job->limit) caution_wrap(out, caution_text(CAUTION_LIMIT_OFF), "  caution  ", rest, WIDTH);
    caution_wrap(out, caution_text(CAUTION_FLASHING), "  caution  ", rest, WIDTH);
}

/* ---- For machines ---- */

static json_t *remarks_json(const struct audit *a)
{
    json_t *all = json_object();
    for (int t = 0; t < AUDIT_TOPICS; t++) {
        json_t *list = json_array();
        for (size_t i = 0; i < a->counts[t] && i < AUDIT_KEPT; i++) {
            const struct audit_remark *m = &a->remarks[t][i];
            json_array_append_new(list, json_pack("{sI sI so}", "line", (json_int_t)m->line, "column",
                                                  (json_int_t)m->column, "text", value_text(m->text)));
        }
        json_object_set_new(all, topics[t], json_pack("{sI so}", "count", (json_int_t)a->counts[t], "first", list));
    }
    return all;
}

static json_t *row_json(const struct load_row *row)
{
    return json_pack("{so so so}", "all_on_w", value_rounded(row->all_on_w, 10), "reached_w",
                     value_rounded(row->reached_w, 10), "reached_at_s",
                     value_rounded((double)row->reached_at_ms / 1000, 1000));
}

static json_t *channels_json(const struct audit *a)
{
    json_t *list = json_array();
    for (size_t c = 0; c < a->rig.channel_count && a->load.channels; c++) {
        json_t *one = row_json(&a->load.channels[c]);
        json_object_set_new(one, "number", json_integer(a->rig.channels[c].number));
        json_object_set_new(one, "name", value_text(a->rig.channels[c].name));
        json_object_set_new(one, "lights", json_boolean(a->lit[c]));
        json_object_set_new(one, "in_worst_second", json_boolean(a->at_peak[c]));
        json_object_set_new(one, "over_output", json_boolean(audit_channel_over(a, c)));
        json_array_append_new(list, one);
    }
    return list;
}

static json_t *circuits_json(const struct audit *a)
{
    json_t *list = json_array();
    for (size_t i = 0; i < a->rig.circuit_count && a->load.circuits; i++) {
        const struct tc_circuit *circuit = &a->rig.circuits[i];
        json_t *one = row_json(&a->load.circuits[i]);
        json_object_set_new(one, "name", value_text(circuit->name));
        json_object_set_new(one, "breaker_amps", value_rounded(circuit->breaker_amps, 100));
        json_object_set_new(one, "volts", value_rounded(circuit->volts, 100));
        json_object_set_new(one, "over_80_percent",
                            json_boolean(circuit_over(circuit, a->load.circuits[i].all_on_w)));
        json_array_append_new(list, one);
    }
    return list;
}

json_t *audit_report_json(const struct audit_job *job, const struct audit *a)
{
    const struct flash_report *f = &a->flash;
    return json_pack(
        "{ss so sb so sI sI so so so sb so so so so so so}",
        "program", "thundercue " TC_VERSION, "file", value_text(job->name), "found", audit_findings(a),
        "levels", json_string(a->unit == AUDIT_8BIT ? "8bit" : a->unit == AUDIT_UNIT ? "unit" : "percent"), "rows",
        (json_int_t)a->rows,
        "columns", (json_int_t)a->levels_count, "start_s", value_rounded(seconds(a->start_us), 1000),
        "end_s", value_rounded(seconds(a->end_us), 1000), "step_ms", value_rounded((double)a->step_us / 1000, 1000),
        "ends_dark", a->ends_dark, "remarks", remarks_json(a),
        "flashes", json_pack("{sb sI sb sb so so ss so so}", "limit_off", f->limit == 0, "limit", (json_int_t)f->limit,
                             "too_many", audit_flashes_too_fast(a), "cannot_tell_without_rig", audit_cannot_tell(a),
                             "peak_in_a_second", value_rounded((double)f->peak_transitions / 2, 10),
                             "peak_at_s", value_rounded((double)f->peak_at_ms / 1000, 1000),
                             "peak_series", f->peak_series,
                             "one_column_alone", a->own_rig && f->limit
                             ? value_rounded((double)a->alone.peak_transitions / 2, 10) : json_null(),
                             "extended_s", value_rounded((double)f->extended_ms / 1000, 1000)),
        "light", json_pack("{so so sI}", "lit_share", value_rounded(a->load.lit_share, 10000), "longest_dark_s",
                           value_rounded((double)a->load.longest_dark_ms / 1000, 1000), "channels_never_lit",
                           (json_int_t)a->never_lit),
        "rig", a->own_rig ? json_null() : row_json(&a->load.rig), "circuits", circuits_json(a),
        "channels", channels_json(a));
}
