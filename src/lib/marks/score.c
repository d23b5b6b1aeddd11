#include "marks/score.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "marks/match.h"
#include "words/memory.h"

static enum tc_status add_error(struct score *s, double error)
{
    if (s->error_count == s->error_room) {
        size_t room = s->error_room ? 2 * s->error_room : 64;
        double *more = memory_resize(s->errors, room * sizeof *more);
        if (!more) return TC_ERR_MEMORY;
        s->errors = more;
        s->error_room = room;
    }
    s->errors[s->error_count++] = fabs(error);
    return TC_OK;
}

/* Where the cracks stand that are doubtful, or those that are not, and their times. */
static size_t pick(const struct label *labels, size_t count, bool doubtful, size_t *index, double *times)
{
    size_t n = 0;
    for (size_t i = 0; i < count; i++) {
        if (labels[i].event.kind != TC_CRACK || (labels[i].weight == 1) != doubtful) continue;
        index[n] = i;
        times[n++] = (double)labels[i].event.start_ms / 1000;
    }
    return n;
}

enum tc_status score_pair_cracks(const struct label *labels, size_t label_count, const double *estimate,
                                 size_t estimates, double tolerance, size_t *label_of)
{
    enum tc_status status = TC_ERR_MEMORY;
    size_t *index = memory_new(label_count + 1, sizeof *index);
    double *times = memory_new(label_count + 1, sizeof *times);
    if (!index || !times) goto done;

    size_t required = pick(labels, label_count, false, index, times);
    size_t doubtful = pick(labels, label_count, true, index + required, times + required);
    status = match_times((struct match_list){ times, required }, (struct match_list){ times + required, doubtful },
                         (struct match_list){ estimate, estimates }, tolerance, label_of);
    for (size_t e = 0; e < estimates && status == TC_OK; e++)
        label_of[e] = label_of[e] == MATCH_NONE ? SCORE_NONE : index[label_of[e]];
done:
    memory_free(index);
    memory_free(times);
    return status;
}

enum tc_status score_add_cracks(struct score *s, const struct label *labels, size_t label_count,
                                const double *estimate, size_t estimates, double tolerance)
{
    size_t *label_of = memory_new(estimates + 1, sizeof *label_of);
    if (!label_of) return TC_ERR_MEMORY;
    enum tc_status status = score_pair_cracks(labels, label_count, estimate, estimates, tolerance, label_of);
    size_t required = 0, hits = 0;
    for (size_t e = 0; e < estimates && status == TC_OK; e++) {
        const struct label *l = label_of[e] == SCORE_NONE ? NULL : &labels[label_of[e]];
        if (!l) {
            s->false_alarms++;
        } else if (l->weight == 1) {
            s->doubtful_hits++;
        } else {
            hits++;
            s->sure_hits += l->weight == 3;
            status = add_error(s, estimate[e] - (double)l->event.start_ms / 1000);
        }
    }
    for (size_t i = 0; i < label_count; i++) {
        if (labels[i].event.kind != TC_CRACK) continue;
        if (labels[i].weight == 1) s->doubtful++;
        else required++;
        s->sure += labels[i].weight == 3;
    }
    s->hits += hits;
    s->misses += required - hits;
    memory_free(label_of);
    return status;
}

enum { LABELLED = 1, HEARD = 2 };

/* Marks the steps whose middle lies within a rumble. */
static void mark(unsigned char *steps, int64_t count, const struct tc_event *e, unsigned char as)
{
    const double step = SCORE_STEP_S * 1000;
    if (e->kind != TC_RUMBLE) return;
    int64_t from = (int64_t)ceil((double)e->start_ms / step - 0.5);
    int64_t to = (int64_t)ceil((double)e->end_ms / step - 0.5);
    for (int64_t i = from > 0 ? from : 0; i < to && i < count; i++) steps[i] |= as;
}

enum tc_status score_add_rumbles(struct score *s, const struct label *labels, size_t label_count,
                                 const struct tc_event *events, size_t event_count, int64_t length_ms)
{
    int64_t count = (int64_t)ceil((double)length_ms / (SCORE_STEP_S * 1000));
    unsigned char *steps = memory_new((size_t)count + 1, 1);
    if (!steps) return TC_ERR_MEMORY;
    for (size_t i = 0; i < label_count; i++) mark(steps, count, &labels[i].event, LABELLED);
    for (size_t i = 0; i < event_count; i++) mark(steps, count, &events[i], HEARD);
    for (int64_t i = 0; i < count; i++) {
        s->steps_both += steps[i] == (LABELLED | HEARD);
        s->steps_heard += steps[i] == HEARD;
        s->steps_labelled += steps[i] == LABELLED;
    }
    memory_free(steps);
    return TC_OK;
}

enum tc_status score_add(struct score *s, const struct score *other)
{
    for (size_t i = 0; i < other->error_count; i++) {
        enum tc_status status = add_error(s, other->errors[i]);
        if (status != TC_OK) return status;
    }
    s->hits += other->hits;
    s->misses += other->misses;
    s->false_alarms += other->false_alarms;
    s->doubtful += other->doubtful;
    s->doubtful_hits += other->doubtful_hits;
    s->sure += other->sure;
    s->sure_hits += other->sure_hits;
    s->steps_both += other->steps_both;
    s->steps_heard += other->steps_heard;
    s->steps_labelled += other->steps_labelled;
    return TC_OK;
}

static double share(size_t part, size_t rest)
{
    return part + rest ? (double)part / (double)(part + rest) : 0;
}

double score_precision(const struct score *s)
{
    return share(s->hits, s->false_alarms);
}

double score_recall(const struct score *s)
{
    return share(s->hits, s->misses);
}

double score_f(const struct score *s)
{
    return share(2 * s->hits, s->misses + s->false_alarms); /* = 2PR / (P + R) */
}

double score_rumble_f(const struct score *s)
{
    return share(2 * s->steps_both, s->steps_heard + s->steps_labelled);
}

static int by_size(const void *left, const void *right)
{
    const double *a = left, *b = right;
    return *a < *b ? -1 : *a > *b;
}

double score_error(struct score *s, double percentile)
{
    if (!s->error_count) return 0;
    qsort(s->errors, s->error_count, sizeof *s->errors, by_size);
    double at = percentile * (double)(s->error_count - 1);
    size_t i = (size_t)at;
    if (i + 1 >= s->error_count) return s->errors[s->error_count - 1];
    return s->errors[i] + (at - (double)i) * (s->errors[i + 1] - s->errors[i]);
}

void score_clear(struct score *s)
{
    memory_free(s->errors);
    memset(s, 0, sizeof *s);
}
