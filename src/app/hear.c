#include "app/hear.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/listen_file.h"
#include "hearing/envelope.h"
#include "marks/events_text.h"
#include "words/status.h"
#include "words/text.h"

/* Adds a sentence to what the user should know about the input. */
static void remark(struct run *r, const char *sentence)
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

static enum tc_status check_path(struct run *r, const struct tc_event *e)
{
    char plain[256];
    for (int i = 0; i < e->path_count; i++)
        if (!in_rig(r->rig, e->path[i]))
            return problem_set(r->why, TC_ERR_FORM, "%s: the crack at %.3f s: path: channel %d is not in the rig",
                               text_plain(plain, sizeof plain, r->job->events), (double)e->start_ms / 1000, e->path[i]);
    return TC_OK;
}

/* Events from a file take the place of those heard. What lies behind the end
 * of the recording has no light frame and is left out with a remark. */
static enum tc_status take_events(struct run *r)
{
    struct label *labels;
    size_t count, kept = 0;
    enum tc_status status = labels_read(r->job->events, &labels, &count, r->why);
    if (status != TC_OK) return status;
    struct tc_event *events = calloc(count + 1, sizeof *events);
    if (!events) {
        free(labels);
        return problem_set(r->why, TC_ERR_MEMORY, "out of memory");
    }
    int64_t end_ms = r->job->recording ? r->heard.length_ms : INT64_MAX;
    for (size_t i = 0; i < count && status == TC_OK; i++) {
        struct tc_event *e = &events[kept];
        *e = labels[i].event;
        if (e->start_ms >= end_ms) continue;
        if (e->end_ms > end_ms) e->end_ms = end_ms;
        if (e->peak_ms > end_ms) e->peak_ms = end_ms;
        status = check_path(r, e);
        kept++;
    }
    free(labels);
    free(r->heard.events);
    r->heard.events = events;
    r->heard.event_count = kept;
    if (kept < count) {
        char sentence[128];
        snprintf(sentence, sizeof sentence, "%zu of the events lie behind the recording's end at %.3f s and are left out",
                 count - kept, (double)end_ms / 1000);
        remark(r, sentence);
    }
    return status;
}

/* Light can't lead to before the first light frame. */
static void remark_lead(struct run *r)
{
    size_t early = 0;
    for (size_t i = 0; i < r->heard.event_count; i++)
        early += r->heard.events[i].kind == TC_CRACK && (double)r->heard.events[i].start_ms < r->settings->lead_ms;
    char sentence[128];
    snprintf(sentence, sizeof sentence,
             "%zu of the cracks come too soon to be lit %.3f s before they sound: they are lit at the start", early,
             r->settings->lead_ms / 1000);
    if (early) remark(r, sentence);
}

enum tc_status hear(struct run *r)
{
    const struct job *job = r->job;
    enum tc_status status = TC_OK;
    if (job->recording)
        status = listen_file(job->recording, r->settings, &r->heard, &r->out->remark, r->why);
    if (status == TC_OK && job->events) status = take_events(r);
    if (status == TC_OK && !job->recording) status = envelope_imagine(&r->heard, r->settings->frame_rate);
    if (status == TC_ERR_MEMORY) problem_set(r->why, status, "%s", tc_status_text(status));
    if (status == TC_OK) remark_lead(r);
    return status;
}
