#include "app/clip/run_hear.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/clip/listen_file.h"
#include "io/files/read_form.h"
#include "marks/events_take.h"
#include "words/numbers.h"
#include "words/status.h"
#include "words/text.h"
#include "words/units.h"

void run_remark(struct run *r, const char *sentence)
{
    char *text = r->out->remark.text;
    size_t used = strlen(text), size = sizeof r->out->remark.text;
    snprintf(text + used, size - used, "%s%s", used ? "; " : "", sentence);
}

static bool in_rig(const struct tc_rig *rig, int number)
{
    for (size_t c = 0; c < rig->channel_count; c++)
        if (rig->channels[c].number == number) return true;
    return false;
}

enum tc_status run_check_paths(const struct tc_analysis *heard, const struct tc_rig *rig, const char *events,
                               struct tc_problem *why)
{
    char plain[256];
    for (size_t i = 0; i < heard->event_count; i++)
        for (int k = 0; k < heard->events[i].path_count; k++)
            if (!in_rig(rig, heard->events[i].path[k]))
                return problem_set(why, TC_ERR_FORM, "%s: the crack at %.3f s: path: channel %d is not in the rig",
                                   text_plain(plain, sizeof plain, events), (double)heard->events[i].start_ms / 1000,
                                   heard->events[i].path[k]);
    return TC_OK;
}

/* Without a recording only the events say how long the show is: a mistyped
 * time would make it days. */
enum { FAR_OFF_MS = 3600 * 1000 };

/* When something begins or ends, and the row that says so. */
struct moment {
    int64_t at_ms;
    long line;
};

static int by_time(const void *left, const void *right)
{
    const struct moment *a = left, *b = right;
    if (a->at_ms != b->at_ms) return a->at_ms < b->at_ms ? -1 : 1;
    return (a->line > b->line) - (a->line < b->line);
}

static enum tc_status refuse_gap(struct run *r, const struct moment *before, const struct moment *after)
{
    char plain[256], other[40] = "the start";
    text_plain(plain, sizeof plain, r->job->events);
    if (before->line) snprintf(other, sizeof other, "%.3f s in line %ld", (double)before->at_ms / 1000, before->line);
    return problem_set(r->why, TC_ERR_FORM,
                       "%s:%ld: %.3f s is more than an hour after all before it (%s): if "
                       "that is no slip of the keyboard, "
                       "say with --to how far to light", plain, after->line, (double)after->at_ms / 1000, other);
}

/* Nothing may lie more than an hour after all that is before it. */
static enum tc_status check_gaps(struct run *r, const struct marks *m)
{
    if (r->job->recording || r->settings->to_s > 0) return TC_OK;
    struct moment *moments = calloc(2 * m->count + 1, sizeof *moments); /* the first is the start of the show */
    if (!moments) return problem_say(r->why, TC_ERR_MEMORY);
    for (size_t i = 0; i < m->count; i++) {
        const struct label *l = &m->labels[i];
        moments[2 * i + 1] = (struct moment){ l->event.start_ms, l->line };
        moments[2 * i + 2] = (struct moment){ l->event.end_ms, l->line };
    }
    qsort(moments, 2 * m->count + 1, sizeof *moments, by_time);
    enum tc_status status = TC_OK;
    for (size_t i = 1; i <= 2 * m->count && status == TC_OK; i++)
        if (moments[i].at_ms - moments[i - 1].at_ms > FAR_OFF_MS) status = refuse_gap(r, &moments[i - 1], &moments[i]);
    free(moments);
    return status;
}

/* Without a recording the show ends where --to says. Events are sorted by start. */
static void end_at(struct run *r, struct marks *m)
{
    if (r->job->recording || !(r->settings->to_s > 0)) return;
    int64_t to_ms = seconds_ms(r->settings->to_s);
    size_t before = m->count;
    while (m->count && m->labels[m->count - 1].event.start_ms >= to_ms) m->count--;
    for (size_t i = 0; i < m->count; i++) {
        struct tc_event *e = &m->labels[i].event;
        if (e->end_ms > to_ms) e->end_ms = to_ms;
        if (e->peak_ms > to_ms) e->peak_ms = to_ms;
    }
    char sentence[128];
    snprintf(sentence, sizeof sentence, before - m->count == 1 ? "%zu event lies after --to %.3f s and is left out"
             : "%zu events lie after --to %.3f s and are left out", before - m->count, r->settings->to_s);
    if (m->count < before) run_remark(r, sentence);
}

/* What lies after the end of the recording has no light frame and is left out with a remark. */
static enum tc_status keep_events(struct run *r, const struct marks *m)
{
    size_t left_out;
    enum tc_status status = marks_take(m, &r->heard, &left_out);
    if (status != TC_OK) return problem_say(r->why, status);
    status = run_check_paths(&r->heard, r->rig, r->job->events, r->why);
    if (left_out) {
        char sentence[128];
        snprintf(sentence, sizeof sentence, left_out == 1
                 ? "%zu event lies after the end of the recording at %.3f s and is left out"
                 : "%zu events lie after the end of the recording at %.3f s and are left out", left_out,
                 (double)r->heard.length_ms / 1000);
        run_remark(r, sentence);
    }
    return status;
}

/* What was deleted from an events file is known by the sensitivity that it was
 * made with, so that one is kept, and goes to the page too. One asked for on
 * the command line has no effect then. */
static void keep_sensitivity(struct run *r, double made_with)
{
    double wished = r->settings->sensitivity;
    if (made_with < 0 || fabs(wished - made_with) < 1e-9) return;
    r->of_events = *r->settings;
    r->of_events.sensitivity = made_with;
    r->settings = &r->of_events;
    if (fabs(wished - tc_settings_default().sensitivity) < 1e-9) return; /* nobody asked */
    char sentence[160];
    snprintf(sentence, sizeof sentence,
             "sensitivity %s is not used: the events file was made with %s, and its cracks are taken as "
             "they stand", SHOWN(wished, 6), SHOWN(made_with, 6));
    run_remark(r, sentence);
}

/* Events from a file take the place of those heard. */
static enum tc_status take_events(struct run *r)
{
    struct marks m;
    enum tc_status status = read_marks(r->job->events, &m, r->why);
    if (status == TC_OK) status = check_gaps(r, &m);
    if (status == TC_OK) end_at(r, &m);
    if (status == TC_OK) status = keep_events(r, &m);
    if (status == TC_OK && *m.remark) run_remark(r, m.remark);
    if (status == TC_OK) keep_sensitivity(r, m.sensitivity);
    marks_clear(&m);
    return status;
}

/* No light comes before the first light frame, however far it leads. */
static void remark_lead(struct run *r)
{
    size_t early = 0;
    for (size_t i = 0; i < r->heard.event_count; i++)
        early += r->heard.events[i].kind == TC_CRACK && (double)r->heard.events[i].start_ms < r->settings->lead_ms;
    char sentence[128];
    snprintf(sentence, sizeof sentence,
             early == 1 ? "%zu crack comes too early for a lead of %.3f s: it is lit at the very start"
             : "%zu cracks come too early for a lead of %.3f s: they are lit at the very start", early,
             r->settings->lead_ms / 1000);
    if (early) run_remark(r, sentence);
}

static enum tc_status without_page_sound(struct run *r, enum tc_status status)
{
    return problem_set(r->why, status,
                       "%s: its sound can't be made ready for the page (--no-preview leaves the page out): %s",
                       source_name(r->source), tc_status_text(status));
}

/* The one pass over the recording: the listener and the page hear the same. */
static enum tc_status listen_once(struct run *r)
{
    enum tc_status status = source_open(&r->source, r->job->recording, r->why);
    if (status != TC_OK) return status;
    if (r->job->preview) status = page_sound_create(&r->sound, r->source);
    if (status != TC_OK) return without_page_sound(r, status);
    struct listen_tap tap = { page_sound_take, r->sound };
    status = listen_source(r->source, r->settings, r->sound ? &tap : NULL, &r->heard, &r->out->remark, r->why);
    if (status == TC_ERR_WRITE) return without_page_sound(r, status); /* the tap's: listening writes nothing */
    if (status != TC_OK || !r->sound) return status;
    status = page_sound_finish(r->sound);
    return status == TC_OK ? status : without_page_sound(r, status);
}

enum tc_status run_hear(struct run *r)
{
    const struct job *job = r->job;
    enum tc_status status = TC_OK;
    if (job->recording) status = listen_once(r);
    if (status == TC_OK && job->events) status = take_events(r);
    if (status == TC_OK && !job->recording) {
        status = tc_analysis_imagine(&r->heard, r->settings->frame_rate);
        if (status != TC_OK) problem_say(r->why, status);
    }
    if (status == TC_OK) remark_lead(r);
    return status;
}
