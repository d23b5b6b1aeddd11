#include "app/tune/tune.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "app/clip/listen_file.h"
#include "io/files/read_form.h"
#include "words/memory.h"
#include "words/numbers.h"
#include "words/status.h"

struct tune tune_empty(void)
{
    struct tune t = { .marks.sensitivity = -1 };
    for (size_t i = 0; i < TUNE_ROWS; i++) t.rows[i].sensitivity = (double)(i * TUNE_STEP);
    return t;
}

size_t tune_row_at(double sensitivity)
{
    return (size_t)(sensitivity / TUNE_STEP + 0.5);
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
    if (now >= lowest && now < above) return now;
    return m->sensitivity >= lowest && m->sensitivity < above ? m->sensitivity : ceil(lowest);
}

/* ---- The sweep ---- */

/* The times of what counts at a sensitivity, in seconds. */
static size_t times_at(const struct tune *t, double sensitivity, double *times)
{
    size_t n = 0;
    for (size_t i = 0; i < t->heard_count; i++)
        if ((double)t->heard[i].found_at <= sensitivity) times[n++] = (double)t->heard[i].at_ms / 1000;
    return n;
}

static enum tc_status sweep(struct tune *t, const struct tc_analysis *heard)
{
    double *times = calloc(t->heard_count + 1, sizeof *times);
    if (!times) return TC_ERR_MEMORY;
    size_t rumbles = 0;
    for (size_t i = 0; i < heard->event_count; i++) rumbles += heard->events[i].kind == TC_RUMBLE;
    enum tc_status status = TC_OK;
    for (size_t r = 0; r < TUNE_ROWS && status == TC_OK; r++) {
        struct tune_row *row = &t->rows[r];
        row->cracks = times_at(t, row->sensitivity, times);
        row->rumbles = rumbles;
        if (!t->labelled) continue;
        status = score_add_cracks(&row->score, t->marks.labels, t->marks.count, times, row->cracks, SCORE_TOLERANCE_S);
        if (status == TC_OK)
            status = score_add_rumbles(&row->score, t->marks.labels, t->marks.count, heard->events, heard->event_count,
                                       heard->length_ms);
    }
    free(times);
    return status;
}

static enum tc_status take_what_is_heard(struct tune *t, struct tc_analysis *heard, double now, struct tc_problem *why)
{
    t->heard = heard->candidates;
    t->heard_count = heard->candidate_count;
    heard->candidates = NULL;
    heard->candidate_count = 0;
    enum tc_status status = sweep(t, heard);
    if (status != TC_OK) return problem_say(why, status);
    if (t->labelled) t->as_heard_at = same_as_heard(&t->marks, t->heard, t->heard_count, now);
    if (t->labelled && t->as_heard_at >= 0) t->labels_as_heard = tune_required(t);
    return TC_OK;
}

enum tc_status tune_hear(const char *recording, const struct tc_settings *s, struct tune_part part,
                         struct tc_analysis *out, struct tc_problem *remark, struct tc_problem *why)
{
    enum tc_status status = listen_file(recording, s, out, remark, why);
    if (status == TC_OK && part.from_ms >= out->length_ms)
        return problem_set(why, TC_ERR_USAGE, "from: %s s is after the end of the recording at %s s",
                           SHOWN((double)part.from_ms / 1000, 9), SHOWN((double)out->length_ms / 1000, 9));
    if (status == TC_OK) part_of_analysis(part, out);
    return status;
}

enum tc_status tune_listen(const char *recording, const char *labels_path, const struct tc_settings *s,
                           struct tune_part part, struct tune *out, struct label_notes *notes,
                           struct tc_problem *why)
{
    struct tc_analysis heard = { 0 };
    struct tc_problem remark = { "" };
    char *beside = labels_path ? NULL : labels_beside(recording);
    if (!labels_path) labels_path = beside;

    enum tc_status status = labels_path ? read_marks(labels_path, &out->marks, why) : TC_OK;
    if (status == TC_OK) status = tune_hear(recording, s, part, &heard, &remark, why);
    if (status == TC_OK && *remark.text) label_note(notes, "%s", remark.text);
    if (status == TC_OK && labels_path) status = labels_fit(&out->marks, labels_path, heard.length_ms, notes, why);
    if (status == TC_OK) {
        part_of_marks(part, &out->marks);
        out->recordings = 1;
        out->labelled = labels_path != NULL;
        out->length_ms = part_length_ms(part, heard.length_ms);
        status = take_what_is_heard(out, &heard, s->sensitivity, why);
    }
    tc_analysis_clear(&heard);
    free(beside);
    return status;
}

enum tc_status tune_add(struct tune *sum, const struct tune *one)
{
    sum->recordings += one->recordings;
    sum->labelled += one->labelled;
    sum->length_ms += one->length_ms;
    sum->labels_as_heard += one->labels_as_heard;
    for (size_t r = 0; r < TUNE_ROWS; r++) {
        sum->rows[r].cracks += one->rows[r].cracks;
        sum->rows[r].rumbles += one->rows[r].rumbles;
        enum tc_status status = score_add(&sum->rows[r].score, &one->rows[r].score);
        if (status != TC_OK) return status;
    }
    return TC_OK;
}

size_t tune_required(const struct tune *t)
{
    return t->rows[0].score.hits + t->rows[0].score.misses;
}

enum tc_status tune_tell(const struct tune *one, size_t row, size_t *missed, size_t *missed_count,
                         int64_t *unlabelled, size_t *unlabelled_count)
{
    const struct marks *m = &one->marks;
    *missed_count = *unlabelled_count = 0;
    double *times = calloc(one->heard_count + 1, sizeof *times);
    size_t *label_of = calloc(one->heard_count + 1, sizeof *label_of);
    bool *found = calloc(m->count + 1, sizeof *found);
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
    free(times);
    free(label_of);
    free(found);
    return status;
}

void tune_clear(struct tune *t)
{
    for (size_t r = 0; r < TUNE_ROWS; r++) score_clear(&t->rows[r].score);
    memory_free(t->heard);
    marks_clear(&t->marks);
    *t = tune_empty();
}
