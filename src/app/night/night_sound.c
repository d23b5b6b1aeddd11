#include "app/night/night_sound.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "io/process/progress.h"
#include "words/status.h"
#include "words/text.h"

static int64_t at_frame(const struct night_outcome *o, int64_t ms)
{
    return ms * o->rate / 1000;
}

static int64_t frames_of(const struct night_outcome *o, const struct night_recording *r)
{
    return (int64_t)((double)r->frames * o->rate / r->rate + 0.5);
}

static void show_progress(const struct night_outcome *o, size_t turn)
{
    char text[80];
    snprintf(text, sizeof text, "writing the sound: clip %zu of %zu", turn + 1, o->plan.count);
    progress_show(text);
}

static enum tc_status begin_clip(const struct night_outcome *o, struct joined *j, const struct night_turn *t,
                                 struct tc_problem *why)
{
    const struct night_recording *r = &o->recordings[t->clip];
    struct source *source;
    int64_t frames = frames_of(o, r), most = at_frame(o, t->end_ms) - at_frame(o, t->start_ms);
    enum tc_status status = joined_until(j, at_frame(o, t->start_ms));
    if (status == TC_OK) status = source_open(&source, r->path, why);
    return status == TC_OK ? joined_clip(j, source, frames < most ? frames : most, t->gain_db) : status;
}

/* When clips sound, one or several. The caller frees it; NULL out of memory. */
static struct under_span *find_spans(const struct night_outcome *o, size_t *count)
{
    const struct night_plan *p = &o->plan;
    struct under_span *spans = calloc(p->count + 1, sizeof *spans);
    *count = 0;
    for (size_t i = 0; spans && i < p->count; i++) {
        struct under_span s = { at_frame(o, p->turns[i].start_ms), at_frame(o, p->turns[i].end_ms) };
        struct under_span *last = *count ? &spans[*count - 1] : NULL;
        if (!last || s.from > last->to) spans[(*count)++] = s;
        else if (s.to > last->to) last->to = s.to;
    }
    return spans;
}

static enum tc_status write_all(const struct night_job *job, struct night_outcome *o, struct joined *j,
                                const struct under_span *spans, size_t span_count, struct tc_problem *why)
{
    const struct night_plan *p = &o->plan;
    enum tc_status status = TC_OK;
    const struct under_plan under = {
        .path = o->under.path, .frames = o->under.file ? frames_of(o, &o->under) : 0,
        .end = at_frame(o, night_plan_end(p)),
        .gain_db = o->under.gain_db, .dip_db = (double)job->under_dip, .once = job->under_once, .spans = spans,
        .span_count = span_count,
    };
    if (o->under.file) status = joined_under(j, &under, why);
    for (size_t i = 0; i < p->count && status == TC_OK; i++) {
        show_progress(o, i);
        status = begin_clip(o, j, &p->turns[i], why);
    }
    if (status == TC_OK) status = joined_until(j, at_frame(o, night_plan_end(p)));
    return status == TC_OK ? joined_finish(j, &o->sound) : status;
}

enum tc_status night_sound_write(const struct night_job *job, int64_t seed, struct night_outcome *o, FILE *to,
                                 struct tc_problem *why)
{
    struct joined *j = NULL;
    size_t span_count;
    struct under_span *spans = find_spans(o, &span_count);
    const struct joined_wish wish = { .form = job->form, .bits = job->bits, .rate = o->rate, .seed = (uint64_t)seed };
    why->text[0] = 0;
    errno = 0;
    enum tc_status status = spans ? joined_open(&j, to, &wish) : TC_ERR_MEMORY;
    if (status == TC_OK) status = write_all(job, o, j, spans, span_count, why);
    int error = status == TC_ERR_WRITE ? errno : 0;
    joined_close(j);
    free(spans);
    progress_clear();
    if (status == TC_OK || *why->text) return status;
    if (status == TC_ERR_STOPPED) return problem_set(why, status, "stopped");
    char plain[300];
    text_plain(plain, sizeof plain, o->sound_path);
    return problem_set(why, status, "%s: %s%s", plain, error ? "can't be written: " : "",
                       error ? strerror(error) : tc_status_text(status));
}
