#include "app/night/night_report.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "app/clip/report.h"
#include "app/night/night_storms.h"
#include "app/report/values.h"
#include "words/numbers.h"
#include "words/text.h"

#define CLOCK(o, ms) NIGHT_CLOCK((ms), (o)->day_s)

static const char *many(size_t n)
{
    return n == 1 ? "" : "s";
}

/* ---- For people ---- */

static void tell_storms(FILE *out, const struct night_outcome *o)
{
    char plain[80];
    struct night_storm s = { 0 };
    while (night_storm_next(o, &s)) {
        text_plain(plain, sizeof plain, o->recordings[s.nearest->clip].file);
        if (s.number)
            fprintf(out, "  storm    %s to %s: %zu clip%s, nearest at %s (%s)\n", CLOCK(o, s.start_ms),
                    CLOCK(o, s.end_ms), s.count,
                    many(s.count), CLOCK(o, s.nearest->start_ms), plain);
        else fprintf(out, "  alone    %s to %s: %s\n", CLOCK(o, s.start_ms), CLOCK(o, s.end_ms), plain);
    }
}

/* What an edited running order makes different from what may have been meant. */
static void tell_order(FILE *out, const struct night_job *job, const struct night_outcome *o)
{
    size_t cut = 0, gains = 0;
    char plain[300];
    if (!job->order) return;
    text_plain(plain, sizeof plain, job->order);
    for (size_t i = 0; i < o->plan.count; i++) {
        const struct night_turn *t = &o->plan.turns[i];
        cut += t->end_ms - t->start_ms < o->recordings[t->clip].heard.length_ms;
        gains += fabs(t->gain_db - o->recordings[t->clip].gain_db) > 0.05;
    }
    if (cut)
        fprintf(out, "  cut      %zu clip%s cut short by %s end_s in %s\n", cut, many(cut), cut == 1 ? "its" : "their",
                plain);
    if (gains)
        fprintf(out, "  gains    %zu clip%s at the gain_db of %s, not at %lld LUFS; an empty gain_db sets %s to that\n",
                gains, many(gains),
                plain, (long long)job->lufs, gains == 1 ? "it" : "them");
    if (o->clocks_off)
        fprintf(out,
                "  clocks   %zu row%s of %s %s another clock than start_s, which counts; "
                "--start says when the evening starts\n",
                o->clocks_off, many(o->clocks_off), plain, o->clocks_off == 1 ? "has" : "have");
    if (!o->order_path && o->order_day_s != NIGHT_NO_DAY && o->order_day_s != o->day_s)
        fprintf(out, "  clocks   %s still has those of a start at %s; --out with another name writes it anew\n", plain,
                NIGHT_CLOCK(0, o->order_day_s));
}

/* What the running order doesn't know. */
static void tell_again(FILE *out, const struct night_job *job, const struct night_outcome *o)
{
    char plain[300];
    bool fine = job->bits != JOINED_BITS_USUAL, other = job->lufs != NIGHT_LUFS_USUAL;
    if (!o->under.file && job->form == JOINED_FLAC && !fine && !other) return;
    fputs("  again    to build from the running order, repeat", out);
    if (o->under.file) fprintf(out, " --under %s", text_plain(plain, sizeof plain, o->under.path));
    if (o->under.file && job->under_level != NIGHT_UNDER_LEVEL_USUAL) fprintf(out, " --under-level %lld", (long long)job->under_level);
    if (o->under.file && job->under_dip != NIGHT_UNDER_DIP_USUAL) fprintf(out, " --under-dip %lld", (long long)job->under_dip);
    if (o->under.file && job->under_once) fputs(" --under-once", out);
    if (job->form != JOINED_FLAC) fprintf(out, " --sound-format %s", joined_endings[job->form]);
    if (fine) fprintf(out, " --sound-bits %d", job->bits);
    if (other) fprintf(out, " --loudness %lld", (long long)job->lufs);
    fputc('\n', out);
}

static void tell_clips(FILE *out, const struct night_job *job, const struct night_outcome *o)
{
    size_t heard = o->recording_count - o->left_out;
    int64_t end = night_plan_end(&o->plan);
    struct night_sounding sum = night_sounding(&o->plan);
    char plain[300];
    fprintf(out, "%s: %s", text_plain(plain, sizeof plain, job->out), NIGHT_CLOCK(end, NIGHT_NO_DAY));
    if (o->day_s != NIGHT_NO_DAY) fprintf(out, " from %s to %s", CLOCK(o, 0), CLOCK(o, end));
    fprintf(out, ", %zu clip%s from %zu recording%s, sound for %.0f %% of the time\n", o->plan.count,
            many(o->plan.count), heard,
            many(heard), 100.0 * (double)sum.sounding_ms / (double)end);
    int64_t rest_ms = job->order ? 0 : job->wish.length_ms - end;
    if (rest_ms >= 1000)
        fprintf(out, "  short    by %s: no other clip fits into that%s\n", NIGHT_CLOCK(rest_ms, NIGHT_NO_DAY),
                o->plan.count > 1 ? ", and --gap allows no longer silence" : "");
    size_t idle = night_idle(o);
    if (idle)
        fprintf(out, "  idle     %zu recording%s no turn%s\n", idle, idle == 1 ? " has" : "s have",
                job->order ? "" : ": the evening is too short for all");
    for (size_t i = 0; i < o->recording_count; i++) {
        const struct night_recording *r = &o->recordings[i];
        if (r->status != TC_OK) fprintf(out, "  left out %s\n", r->note.text);
        else if (*r->note.text) fprintf(out, "  note: %s\n", r->note.text);
    }
}

/* The loudness that every recording can be set to. */
static double quietest(const struct night_outcome *o)
{
    double least = HUGE_VAL;
    for (size_t i = 0; i < o->recording_count; i++) {
        const struct night_recording *r = &o->recordings[i];
        if (r->status == TC_OK && isfinite(r->lufs)) least = fmin(least, r->lufs + r->gain_db);
    }
    return least;
}

static void tell_loudness(FILE *out, const struct night_job *job, const struct night_outcome *o)
{
    double least = HUGE_VAL, most = -HUGE_VAL, equal = quietest(o);
    for (size_t i = 0; i < o->plan.count; i++) {
        least = fmin(least, o->plan.turns[i].gain_db);
        most = fmax(most, o->plan.turns[i].gain_db);
    }
    if (isfinite(o->sound.lufs)) fprintf(out, "  loudness %.1f LUFS (BS.1770), ", o->sound.lufs);
    else fputs("  loudness under the gate, ", out);
    fprintf(out, "clips set to %lld by ", (long long)job->lufs);
    if (most - least < 0.05) fprintf(out, "a gain of %+.1f dB", least);
    else fprintf(out, "gains of %+.1f to %+.1f dB", least, most);
    fprintf(out, "; highest sample %.1f dB\n", isfinite(o->sound.peak_db) ? o->sound.peak_db : -200.0);
    if (o->sound.softened_s > 0)
        fprintf(out, "  softened %.1f s where sounds add up, to keep them from clipping\n", o->sound.softened_s);
    if (o->quieter)
        fprintf(out, "  quieter  %zu recording%s: %s no room for more gain%s%s%s\n", o->quieter,
                many(o->quieter), o->quieter == 1 ? "its peak leaves" : "their peaks leave",
                isfinite(equal) ? "; --loudness " : "",
                isfinite(equal) ? SHOWN(floor(equal), 3) : "", isfinite(equal) ? " makes all equal" : "");
}

static void tell_under(FILE *out, const struct night_job *job, const struct night_outcome *o)
{
    char plain[300];
    if (!o->under.file) return;
    fprintf(out, "  beneath  %s at %.1f LUFS, %lld dB lower while thunder sounds, %s; it brings no light\n",
            text_plain(plain, sizeof plain, o->under.path), o->under.lufs + o->under.gain_db, (long long)job->under_dip,
            job->under_once ? "once" : "again where it ends");
}

void night_report(FILE *out, const struct night_job *job, const struct tc_rig *rig, const struct tc_settings *s,
                  const struct night_outcome *o)
{
    char plain[512];
    tell_clips(out, job, o);
    tell_loudness(out, job, o);
    tell_under(out, job, o);
    tell_storms(out, o);
    tell_order(out, job, o);
    tell_again(out, job, o);
    fprintf(out, "  wrote    %s\n", text_plain(plain, sizeof plain, o->sound_path));
    if (o->order_path) fprintf(out, "  wrote    %s\n", text_plain(plain, sizeof plain, o->order_path));
    else fprintf(out, "  kept     %s as it is\n", text_plain(plain, sizeof plain, job->order));
    report_text(out, &o->job, rig, s, &o->light);
}

/* ---- For machines ---- */

static json_t *seconds(int64_t ms)
{
    return value_rounded((double)ms / 1000, 1000);
}

/* A time of day, where there is one. */
static void set_clock(json_t *to, const char *key, const struct night_outcome *o, int64_t ms)
{
    if (o->day_s != NIGHT_NO_DAY) json_object_set_new(to, key, json_string(CLOCK(o, ms)));
}

static json_t *storms_json(const struct night_outcome *o)
{
    json_t *all = json_array();
    struct night_storm s = { 0 };
    while (night_storm_next(o, &s)) {
        json_t *one = json_pack("{so so so sI so so}", "number", s.number ? json_integer(s.number) : json_null(),
                                "start_s", seconds(s.start_ms), "end_s", seconds(s.end_ms), "clips",
                                (json_int_t)s.count,
                                "nearest_s", seconds(s.nearest->start_ms),
                                "nearest_file", value_text(o->recordings[s.nearest->clip].file));
        set_clock(one, "start_clock", o, s.start_ms);
        set_clock(one, "end_clock", o, s.end_ms);
        json_array_append_new(all, one);
    }
    return all;
}

static json_t *turns_json(const struct night_outcome *o)
{
    json_t *all = json_array();
    for (size_t i = 0; i < o->plan.count; i++) {
        const struct night_turn *t = &o->plan.turns[i];
        json_t *one = json_pack("{so so so so so}", "start_s", seconds(t->start_ms), "end_s", seconds(t->end_ms),
                                "file", value_text(o->recordings[t->clip].file), "gain_db",
                                value_rounded(t->gain_db, 10),
                                "storm", t->storm ? json_integer(t->storm) : json_null());
        set_clock(one, "start_clock", o, t->start_ms);
        json_array_append_new(all, one);
    }
    return all;
}

static json_t *left_out_json(const struct night_outcome *o)
{
    json_t *all = json_array();
    for (size_t i = 0; i < o->recording_count; i++)
        if (o->recordings[i].status != TC_OK)
            json_array_append_new(all, json_pack("{so so}", "file", value_text(o->recordings[i].file),
                                                 "why", value_text(o->recordings[i].note.text)));
    return all;
}

static json_t *decibels(double db)
{
    return isfinite(db) ? value_rounded(db, 10) : json_null();
}

json_t *night_report_json(const void *outcome)
{
    const struct night_outcome *o = outcome;
    struct night_sounding sum = night_sounding(&o->plan);
    json_t *root = json_pack("{so so so so so so so so so so so}", "length_s", seconds(night_plan_end(&o->plan)),
                             "recordings", json_integer((json_int_t)(o->recording_count - o->left_out)),
                             "sounding_s", seconds(sum.sounding_ms), "longest_silence_s", seconds(sum.silence_ms),
                             "loudness_lufs", decibels(o->sound.lufs), "highest_sample_db", decibels(o->sound.peak_db),
                             "softened_s", value_rounded(o->sound.softened_s, 1000),
                             "under", o->under.file ? value_text(o->under.path) : json_null(),
                             "storms", storms_json(o), "turns", turns_json(o), "left_out", left_out_json(o));
    set_clock(root, "start_clock", o, 0);
    set_clock(root, "end_clock", o, night_plan_end(&o->plan));
    return root;
}
