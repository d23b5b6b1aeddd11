#include "marks/sweep.h"

#include <math.h>

#include "words/memory.h"

struct sweep sweep_empty(void)
{
    struct sweep t = { .marks.sensitivity = -1 };
    for (size_t i = 0; i < SWEEP_ROWS; i++) t.rows[i].sensitivity = (double)(i * SWEEP_STEP);
    return t;
}

size_t sweep_row_at(double sensitivity)
{
    return (size_t)(sensitivity / SWEEP_STEP + 0.5);
}

/* ---- Labels that are what was heard ---- */

/* The sensitivity whose cracks are those of the labels, to the millisecond and
 * all of one weight, as files are that nobody has corrected; -1 = there is none.
 * Of several that do, `now`, else what the file says, else the lowest. */
static double same_as_heard(const struct marks *m, const struct tc_candidate *heard, size_t count, double now)
{
    double lowest = -1, above = 1e9;
    size_t labelled = 0, met = 0;
    int weight = -1;
    for (size_t i = 0; i < m->count; i++) {
        if (m->labels[i].event.kind != TC_CRACK) continue;
        if (weight >= 0 && weight != m->labels[i].weight) return -1;
        weight = m->labels[i].weight;
        labelled++;
    }
    for (size_t c = 0, i = 0; c < count; c++) {
        while (i < m->count && (m->labels[i].event.kind != TC_CRACK || m->labels[i].event.start_ms < heard[c].at_ms)) i++;
        double found_at = (double)heard[c].found_at;
        if (i < m->count && m->labels[i].event.start_ms == heard[c].at_ms) {
            lowest = fmax(lowest, found_at);
            met++;
        } else {
            above = fmin(above, found_at);
        }
    }
    if (!labelled || met != labelled || above <= lowest) return -1;
    if (m->sensitivity >= 0 && (m->sensitivity < lowest || m->sensitivity >= above)) return -1; /* others were deleted */
    if (now >= lowest && now < above) return now;
    return m->sensitivity >= 0 ? m->sensitivity : ceil(lowest);
}

/* ---- The sweep ---- */

/* The times of what counts at a sensitivity, in seconds. */
static size_t times_at(const struct sweep *t, double sensitivity, double *times)
{
    size_t n = 0;
    for (size_t i = 0; i < t->heard_count; i++)
        if ((double)t->heard[i].found_at <= sensitivity) times[n++] = (double)t->heard[i].at_ms / 1000;
    return n;
}

static enum tc_status fill(struct sweep *t, const struct tc_analysis *heard)
{
    double *times = memory_new(t->heard_count + 1, sizeof *times);
    if (!times) return TC_ERR_MEMORY;
    size_t rumbles = 0;
    for (size_t i = 0; i < heard->event_count; i++) rumbles += heard->events[i].kind == TC_RUMBLE;
    enum tc_status status = TC_OK;
    for (size_t r = 0; r < SWEEP_ROWS && status == TC_OK; r++) {
        struct sweep_row *row = &t->rows[r];
        row->cracks = times_at(t, row->sensitivity, times);
        row->rumbles = rumbles;
        if (!t->labelled) continue;
        status = score_add_cracks(&row->score, t->marks.labels, t->marks.count, times, row->cracks, SCORE_TOLERANCE_S);
        if (status == TC_OK)
            status = score_add_rumbles(&row->score, t->marks.labels, t->marks.count, heard->events, heard->event_count,
                                       heard->length_ms);
    }
    memory_free(times);
    return status;
}

static bool most_have_no_label(const struct score *s)
{
    return s->hits + s->misses && s->false_alarms > s->hits + s->doubtful_hits;
}

enum tc_status sweep_take(struct sweep *t, struct tc_analysis *heard, struct marks *marks, struct part part,
                          double now)
{
    t->recordings = 1;
    t->labelled = marks != NULL;
    part_of_analysis(part, heard);
    t->length_ms = part_length_ms(part, heard->length_ms);
    t->heard = heard->candidates;
    t->heard_count = heard->candidate_count;
    heard->candidates = NULL;
    heard->candidate_count = 0;
    if (marks) {
        t->marks = *marks;
        *marks = (struct marks){ .sensitivity = -1 };
        part_of_marks(part, &t->marks);
    }
    enum tc_status status = fill(t, heard);
    if (status != TC_OK || !t->labelled) return status;
    for (size_t r = 0; r < SWEEP_ROWS; r++)
        if (most_have_no_label(&t->rows[r].score)) t->rows[r].unlabelled = t->rows[r].score.false_alarms;
    t->as_heard_at = same_as_heard(&t->marks, t->heard, t->heard_count, now);
    if (t->as_heard_at >= 0) t->labels_as_heard = sweep_required(t);
    return TC_OK;
}

enum tc_status sweep_add(struct sweep *sum, const struct sweep *one)
{
    sum->recordings += one->recordings;
    sum->labelled += one->labelled;
    sum->length_ms += one->length_ms;
    sum->labels_as_heard += one->labels_as_heard;
    for (size_t r = 0; r < SWEEP_ROWS; r++) {
        sum->rows[r].cracks += one->rows[r].cracks;
        sum->rows[r].rumbles += one->rows[r].rumbles;
        sum->rows[r].unlabelled += one->rows[r].unlabelled;
        enum tc_status status = score_add(&sum->rows[r].score, &one->rows[r].score);
        if (status != TC_OK) return status;
    }
    return TC_OK;
}

size_t sweep_required(const struct sweep *t)
{
    return t->rows[0].score.hits + t->rows[0].score.misses;
}

enum tc_status sweep_tell(const struct sweep *one, size_t row, size_t *missed, size_t *missed_count,
                          int64_t *unlabelled, size_t *unlabelled_count)
{
    const struct marks *m = &one->marks;
    *missed_count = *unlabelled_count = 0;
    double *times = memory_new(one->heard_count + 1, sizeof *times);
    size_t *label_of = memory_new(one->heard_count + 1, sizeof *label_of);
    bool *found = memory_new(m->count + 1, sizeof *found);
    enum tc_status status = TC_ERR_MEMORY;
    if (!times || !label_of || !found) goto done;
    size_t n = times_at(one, one->rows[row].sensitivity, times);
    status = score_pair_cracks(m->labels, m->count, times, n, SCORE_TOLERANCE_S, label_of);
    for (size_t e = 0; e < n && status == TC_OK; e++) {
        if (label_of[e] == SCORE_NONE) unlabelled[(*unlabelled_count)++] = (int64_t)(times[e] * 1000 + 0.5);
        else found[label_of[e]] = true;
    }
    for (size_t i = 0; i < m->count && status == TC_OK; i++)
        if (m->labels[i].event.kind == TC_CRACK && m->labels[i].weight != 1 && !found[i]) missed[(*missed_count)++] = i;
done:
    memory_free(times);
    memory_free(label_of);
    memory_free(found);
    return status;
}

void sweep_clear(struct sweep *t)
{
    for (size_t r = 0; r < SWEEP_ROWS; r++) score_clear(&t->rows[r].score);
    memory_free(t->heard);
    marks_clear(&t->marks);
    *t = sweep_empty();
}
