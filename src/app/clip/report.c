#include "app/clip/report.h"

#include <stdlib.h>
#include <string.h>

#include "app/report/cautions.h"
#include "app/report/flash_words.h"
#include "app/report/values.h"
#include "light/flash_count.h"
#include "rig/load.h"
#include "words/settings.h"
#include "words/status.h"
#include "words/text.h"
#include "words/units.h"

static double seconds(int64_t ms)
{
    return (double)ms / 1000.0;
}

static const char *many(size_t n)
{
    return n == 1 ? "" : "s";
}

bool report_findings(const struct tc_rig *rig, const struct outcome *o)
{
    if (flash_report_too_fast(&o->flash)) return true;
    for (size_t i = 0; i < rig->circuit_count; i++)
        if (circuit_over(&rig->circuits[i], o->load.circuits[i].all_on_w)) return true;
    return false;
}

/* ---- For people ---- */

static void tell_sound(FILE *out, const struct job *job, const struct outcome *o)
{
    char plain[256];
    if (job->recording)
        fprintf(out, "%s: %.3f s, %.0f Hz, %d channel%s\n",
                text_plain(plain, sizeof plain, job->recording), seconds(o->length_ms), o->sample_rate,
                o->channels, many((size_t)o->channels));
    else
        fprintf(out, "%s: %.3f s, from events alone\n", text_plain(plain, sizeof plain, job->events),
                seconds(o->length_ms));
    if (*o->remark.text) fprintf(out, "  note: %s\n", o->remark.text);
}

/* So many cracks without a rumble are hardly thunder. */
enum { MANY_CRACKS = 6 };

/* "3 restrikes added at random" where there are any. */
static void tell_part(FILE *out, const char **gap, size_t n, const char *what)
{
    if (!n) return;
    fprintf(out, "%s%zu %s", *gap, n, what);
    *gap = ", ";
}

static void tell_light(FILE *out, const struct job *job, const struct tc_rig *rig, const struct tc_settings *s,
                       const struct outcome *o)
{
    fprintf(out, "  %-8s %zu crack%s, %zu rumble%s\n", job->events ? "events" : "heard", o->cracks, many(o->cracks),
            o->rumbles,
            many(o->rumbles));
    const char *gap = ": ";
    fprintf(out, "  strokes  %zu", o->strokes);
    size_t lit = o->strokes - o->restrikes_heard - o->restrikes_drawn - o->glimmers;
    tell_part(out, &gap, lit, lit == 1 ? "crack lit" : "cracks lit");
    tell_part(out, &gap, o->restrikes_heard,
              o->restrikes_heard == 1 ? "restrike from the sound" : "restrikes from the sound");
    tell_part(out, &gap, o->restrikes_drawn,
              o->restrikes_drawn == 1 ? "restrike added at random" : "restrikes added at random");
    tell_part(out, &gap, o->glimmers, o->glimmers == 1 ? "glimmer within a rumble" : "glimmers within a rumble");
    if (o->dropped)
        fprintf(out, "; %zu restrike%s left out to keep the flash rate safe", o->dropped, many(o->dropped));
    if (o->cracks_held_back)
        fprintf(out, "\n           %zu of the %zu cracks stay%s nearly dark to keep the flash rate safe",
                o->cracks_held_back, o->cracks,
                o->cracks_held_back == 1 ? "s" : "");
    fputc('\n', out);
    if (o->soft_rumbles)
        fprintf(out, "           %zu rumble%s too soft to be lit\n", o->soft_rumbles,
                o->soft_rumbles == 1 ? " is" : "s are");
    if (o->far_cracks)
        fprintf(out, "           %zu of the %zu cracks sound%s far and light%s floods alone; a lower --far-sharpness takes %s "
                     "for nearer\n",
                o->far_cracks, o->cracks, o->far_cracks == 1 ? "s" : "", o->far_cracks == 1 ? "s" : "",
                o->far_cracks == 1 ? "it" : "them");
    if (!job->events && o->cracks >= MANY_CRACKS && !o->rumbles)
        fputs("           thunder rumbles, and nothing does here: what is heard may be something else (a voice, bangs)\n", out);
    if (o->brightest > 0)
        fprintf(out,
                "  light    brightest %.0f %% of full light at %.3f s; lit %.0f %% of the time; longest dark %.1f s\n",
                100 * o->brightest, seconds(o->brightest_at_ms), 100 * o->load.lit_share,
                seconds(o->load.longest_dark_ms));
    else fputs("  light    none\n", out);
    if (o->never_lit)
        fprintf(out, "  unused   %zu of %zu channels never light%s: %s\n", o->never_lit, rig->channel_count,
                o->never_lit == 1 ? "s" : "", o->never_lit_list);
    fprintf(out, "  frames   %u at %lld a second", o->frames, (long long)s->frame_rate);
    if (s->frame_rate > DMX_PACKETS_MOST)
        fprintf(out, " (more than the %d packets a second that a full DMX512-A universe carries)", DMX_PACKETS_MOST);
    fputc('\n', out);
}

static void tell_safety(FILE *out, const struct tc_rig *rig, const struct outcome *o)
{
    const struct flash_report *f = &o->flash;
    double flashes = (double)f->peak_transitions / 2;
    const char *half = flash_words_half(f->peak_transitions);
    if (f->limit)
        fprintf(out, "  flashes  at most %.4g in any second (limit %lld%s)", flashes, (long long)f->limit, half);
    else fprintf(out, "  flashes  THE FLASH LIMIT IS OFF: up to %.4g in a second%s", flashes, half);
    if (f->peak_transitions)
        fprintf(out, ", %s, at %.3f s", f->peak_series, seconds(f->peak_at_ms));
    if (f->softened)
        fprintf(out, "; %zu frame%s held back for the limit", f->softened, many(f->softened));
    fputc('\n', out);
    if (f->extended_ms)
        fprintf(out, "  extended %.1f s of sustained flashing (two flashes a second or more for 4 s of 5): a caution\n",
                seconds(f->extended_ms));
    for (size_t i = 0; i < rig->circuit_count; i++) {
        const struct tc_circuit *c = &rig->circuits[i];
        const struct load_row *l = &o->load.circuits[i];
        char plain[64];
        fprintf(out, "  load     %s: ", text_plain(plain, sizeof plain, c->name));
        if (l->reached_w > 0)
            fprintf(out, "most %.0f W at %.3f s (%.0f W if everything were on)", l->reached_w,
                    seconds(l->reached_at_ms), l->all_on_w);
        else fprintf(out, "none (%.0f W if everything were on)", l->all_on_w);
        fprintf(out, "; breaker %.3g A at %.0f V%s\n", c->breaker_amps, c->volts,
                circuit_over(c, l->all_on_w) ? "; MORE THAN 80 % OF THE BREAKER" : "");
    }
}

static void tell_sound_start(FILE *out, const struct tc_settings *s)
{
    double late = flash_to_bang_s(s->distance_m, s->temperature_c) + s->shift_s;
    if (s->distance_m > 0)
        fprintf(out, "  start    the sound at %.3f s: flash first, thunder after %.0f m at %.1f m/s\n",
                late, s->distance_m, sound_speed(s->temperature_c));
    else if (s->shift_s > 0)
        fprintf(out, "  start    the sound at %.3f s\n", late);
}

static void tell_files(FILE *out, const struct job *job, const struct outcome *o)
{
    char plain[512];
    for (int i = 0; i < RUN_FILES; i++)
        if (o->paths[i]) fprintf(out, "  wrote    %s\n", text_plain(plain, sizeof plain, o->paths[i]));
    if (job->events && !o->paths[RUN_EVENTS])
        fprintf(out, "  kept     %s as it is\n", text_plain(plain, sizeof plain, job->events));
    if (job->json) fprintf(out, "  wrote    %s\n", text_plain(plain, sizeof plain, job->json));
}

void report_text(FILE *out, const struct job *job, const struct tc_rig *rig,
                 const struct tc_settings *s, const struct outcome *o)
{
    tell_sound(out, job, o);
    tell_light(out, job, rig, s, o);
    tell_safety(out, rig, o);
    tell_sound_start(out, s);
    tell_files(out, job, o);
    static const char rest[] = "           ";
    enum { WIDTH = 98 };
    if (!o->flash.limit) caution_wrap(out, caution_text(CAUTION_LIMIT_OFF), "  caution  ", rest, WIDTH);
    caution_wrap(out, caution_text(CAUTION_FLASHING), "  caution  ", rest, WIDTH);
    caution_wrap(out, caution_text(CAUTION_WIRING), rest, rest, WIDTH);
}

/* ---- For machines ---- */

static json_t *load_json(const struct tc_rig *rig, const struct outcome *o)
{
    json_t *circuits = json_array();
    for (size_t i = 0; i < rig->circuit_count; i++) {
        const struct load_row *l = &o->load.circuits[i];
        json_array_append_new(circuits, json_pack("{so so so so so so}",
            "name", value_text(rig->circuits[i].name),
            "breaker_amps", value_rounded(rig->circuits[i].breaker_amps, 100),
            "volts", value_rounded(rig->circuits[i].volts, 100),
            "all_on_w", value_rounded(l->all_on_w, 10), "reached_w", value_rounded(l->reached_w, 10),
            "reached_at_s", value_rounded(seconds(l->reached_at_ms), 1000)));
    }
    return circuits;
}

static json_t *settings_json(const struct tc_settings *s)
{
    json_t *all = json_object();
    char value[32];
    for (size_t i = 0; i < setting_count(); i++)
        json_object_set_new(all, setting_at(i)->name,
                            json_string(setting_value(setting_at(i), s, value, sizeof value)));
    return all;
}

static json_t *files_json(const struct outcome *o)
{
    json_t *files = json_object();
    for (int i = 0; i < RUN_FILES; i++)
        if (o->paths[i]) json_object_set_new(files, run_file(i)->name, value_text(o->paths[i]));
    return files;
}

enum tc_status report_json(FILE *out, const struct job *job, const struct tc_rig *rig,
                           const struct tc_settings *s, const struct outcome *o, struct json_t *night,
                           struct tc_problem *why)
{
    const struct flash_report *f = &o->flash;
    json_t *root = json_pack(
        "{ss so so so so sI sI sI sI sI sI sI sI sI sI so so so so so}",
        "program", "thundercue " TC_VERSION,
        "recording", job->recording ? value_text(job->recording) : json_null(),
        "remark", *o->remark.text ? value_text(o->remark.text) : json_null(),
        "length_s", value_rounded(seconds(o->length_ms), 1000),
        "sample_rate", value_rounded(o->sample_rate, 1),
        "cracks", (json_int_t)o->cracks, "rumbles", (json_int_t)o->rumbles,
        "strokes", (json_int_t)o->strokes, "restrikes_heard", (json_int_t)o->restrikes_heard,
        "restrikes_drawn", (json_int_t)o->restrikes_drawn, "glimmers", (json_int_t)o->glimmers,
        "restrikes_left_out", (json_int_t)o->dropped, "cracks_held_back", (json_int_t)o->cracks_held_back,
        "frames", (json_int_t)o->frames, "channels_never_lit", (json_int_t)o->never_lit,
        "light", json_pack("{so so so so}", "brightest", value_rounded(o->brightest, 1000),
                           "brightest_at_s", value_rounded(seconds(o->brightest_at_ms), 1000),
                           "lit_share", value_rounded(o->load.lit_share, 10000),
                           "longest_dark_s", value_rounded(seconds(o->load.longest_dark_ms), 1000)),
        "flashes", json_pack("{sb sI so so ss so sI}", "limit_off", f->limit == 0,
                             "limit", (json_int_t)f->limit,
                             "peak_in_a_second", value_rounded((double)f->peak_transitions / 2, 10),
                             "peak_at_s", value_rounded(seconds(f->peak_at_ms), 1000),
                             "peak_series", f->peak_series,
                             "extended_s", value_rounded(seconds(f->extended_ms), 1000),
                             "frames_held_back", (json_int_t)f->softened),
        "circuits", load_json(rig, o),
        "settings", settings_json(s),
        "files", files_json(o));
    if (root && night) json_object_set(root, "night", night);
    json_decref(night);
    if (!root) return problem_say(why, TC_ERR_MEMORY);
    int failed = json_dumpf(root, out, JSON_INDENT(2) | JSON_PRESERVE_ORDER | JSON_REAL_PRECISION(12));
    json_decref(root);
    putc('\n', out);
    return failed ? problem_set(why, TC_ERR_WRITE, "%s: can't be written", job->json) : TC_OK;
}
