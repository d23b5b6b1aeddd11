#include "app/night_report.h"

#include <math.h>
#include <string.h>

#include "app/night_hear.h"
#include "app/report.h"
#include "words/text.h"

enum { CLOCK_ROOM = 24 };

/* "1:02:03" */
static const char *clock_text(char *to, int64_t ms)
{
    int64_t s = (ms + 500) / 1000;
    snprintf(to, CLOCK_ROOM, "%lld:%02d:%02d", (long long)(s / 3600), (int)(s / 60 % 60), (int)(s % 60));
    return to;
}
#define CLOCK(ms) clock_text((char[CLOCK_ROOM]){ "" }, (ms))

static const char *name_of(const struct night_outcome *o, const struct night_turn *t, char *plain, size_t size)
{
    return text_plain(plain, size, o->recordings[t->clip].file);
}

static void tell_storms(FILE *out, const struct night_outcome *o)
{
    const struct night_plan *p = &o->plan;
    char plain[80];
    for (size_t i = 0, next; i < p->count; i = next) {
        const struct night_turn *first = &p->turns[i], *nearest = first;
        int nearness = -1;
        for (next = i; next < p->count && p->turns[next].storm == first->storm; next++) {
            int this = night_nearness(&o->recordings[p->turns[next].clip].heard);
            if (this > nearness) nearness = this, nearest = &p->turns[next];
        }
        name_of(o, nearest, plain, sizeof plain);
        if (first->storm)
            fprintf(out, "  storm    %s to %s: %zu clip%s, nearest at %s (%s)\n", CLOCK(first->start_ms),
                    CLOCK(p->turns[next - 1].end_ms), next - i, next - i == 1 ? "" : "s", CLOCK(nearest->start_ms), plain);
        else
            fprintf(out, "  alone    %s to %s: %s\n", CLOCK(first->start_ms), CLOCK(p->turns[next - 1].end_ms), plain);
    }
}

static void tell_clips(FILE *out, const struct night_job *job, const struct night_outcome *o)
{
    size_t heard = o->recording_count - o->left_out;
    int64_t sounding = 0;
    char plain[300];
    for (size_t i = 0; i < o->plan.count; i++) sounding += o->plan.turns[i].end_ms - o->plan.turns[i].start_ms;
    fprintf(out, "%s: %s, %zu clip%s from %zu recording%s, sound for %.0f %% of the time\n", text_plain(plain, sizeof plain, job->out),
            CLOCK(o->plan.turns[o->plan.count - 1].end_ms), o->plan.count, o->plan.count == 1 ? "" : "s", heard, heard == 1 ? "" : "s",
            100.0 * (double)sounding / (double)o->plan.turns[o->plan.count - 1].end_ms);
    for (size_t i = 0; i < o->recording_count; i++) {
        const struct night_recording *r = &o->recordings[i];
        if (r->status != TC_OK) fprintf(out, "  left out %s\n", r->note.text);
        else if (*r->note.text) fprintf(out, "  note: %s\n", r->note.text);
    }
}

static void tell_loudness(FILE *out, const struct night_job *job, const struct night_outcome *o)
{
    double least = HUGE_VAL, most = -HUGE_VAL;
    for (size_t i = 0; i < o->plan.count; i++) {
        least = fmin(least, o->plan.turns[i].gain_db);
        most = fmax(most, o->plan.turns[i].gain_db);
    }
    if (isfinite(o->sound.lufs)) fprintf(out, "  loudness %.1f LUFS (BS.1770), ", o->sound.lufs);
    else fputs("  loudness under the gate, ", out);
    fprintf(out, "clips set to %lld by gains of %+.1f to %+.1f dB; highest sample %.1f dB\n", (long long)job->lufs, least, most,
            isfinite(o->sound.peak_db) ? o->sound.peak_db : -200.0);
    if (o->quieter)
        fprintf(out, "  quieter  %zu recording%s: their peaks leave no room for more gain (--loudness sets all lower)\n", o->quieter,
                o->quieter == 1 ? "" : "s");
}

void night_report(FILE *out, const struct night_job *job, const struct tc_rig *rig, const struct tc_settings *s,
                  const struct night_outcome *o)
{
    char plain[512];
    tell_clips(out, job, o);
    tell_loudness(out, job, o);
    tell_storms(out, o);
    fprintf(out, "  wrote    %s\n", text_plain(plain, sizeof plain, o->sound_path));
    if (o->order_path) fprintf(out, "  wrote    %s\n", text_plain(plain, sizeof plain, o->order_path));
    else fprintf(out, "  kept     %s as it is\n", text_plain(plain, sizeof plain, job->order));
    report_text(out, &o->job, rig, s, &o->light);
}
