#include "app/night_events.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/run_hear.h"
#include "app/run_names.h"
#include "io/ledger.h"
#include "io/read_form.h"
#include "marks/events_take.h"
#include "words/status.h"
#include "words/text.h"

/* A folder that is looked into. */
struct shelf {
    const char *folder;
    struct ledger *ledger;
};

static size_t stem_length(const char *file)
{
    const char *dot = strrchr(file, '.');
    return dot && dot != file ? (size_t)(dot - file) : strlen(file);
}

/* Recordings whose names differ in the ending alone keep it, as in a batch. */
static bool is_alone(const struct night_outcome *out, const char *file)
{
    size_t n = stem_length(file), alike = 0;
    for (size_t i = 0; i < out->recording_count; i++)
        alike += stem_length(out->recordings[i].file) == n && !strncmp(out->recordings[i].file, file, n);
    return alike == 1;
}

/* The user's events file for a recording; NULL if there is none. The caller frees it. */
static char *find(const struct shelf *shelf, const struct night_outcome *out, const char *file)
{
    char *stem = strndup(file, is_alone(out, file) ? stem_length(file) : strlen(file));
    char *path = stem ? run_file_path(shelf->folder, stem, RUN_EVENTS) : NULL;
    enum ledger_word word = path ? ledger_look(shelf->ledger, path) : LEDGER_ABSENT;
    free(stem);
    if (word == LEDGER_EDITED || word == LEDGER_UNKNOWN) return path;
    free(path);
    return NULL;
}

static void add_note(struct night_recording *r, const char *path, size_t left_out)
{
    char plain[512], before[sizeof r->note.text];
    snprintf(before, sizeof before, "%s", r->note.text);
    problem_set(&r->note, TC_OK, "%s%s%s: its events are those of %s%s", before, *before ? "; " : "", r->file,
                text_plain(plain, sizeof plain, path), left_out ? "; what lies after its end is left out" : "");
}

static enum tc_status take(const char *path, const struct tc_rig *rig, struct night_recording *r, struct tc_problem *why)
{
    struct marks m;
    size_t left_out = 0;
    enum tc_status status = read_marks(path, &m, why);
    if (status == TC_OK && marks_take(&m, &r->heard, &left_out) != TC_OK)
        status = problem_set(why, TC_ERR_MEMORY, "%s", tc_status_text(TC_ERR_MEMORY));
    if (status == TC_OK) status = run_check_paths(&r->heard, rig, path, why);
    if (status == TC_OK) add_note(r, path, left_out);
    marks_clear(&m);
    return status;
}

enum tc_status night_events_take(const struct night_job *job, const struct tc_rig *rig, struct night_outcome *out,
                                 struct tc_problem *why)
{
    struct shelf shelves[] = { { job->events, NULL }, { job->folder, NULL } };
    enum tc_status status = TC_OK;
    for (size_t i = 0; i < 2 && status == TC_OK; i++)
        if (shelves[i].folder) status = ledger_open(&shelves[i].ledger, shelves[i].folder, why);
    for (size_t i = 0; i < out->recording_count && status == TC_OK; i++) {
        char *path = NULL;
        if (out->recordings[i].status != TC_OK) continue;
        for (size_t k = 0; k < 2 && !path; k++)
            if (shelves[k].folder) path = find(&shelves[k], out, out->recordings[i].file);
        if (path) status = inputs_add(job->inputs, path, why);
        if (path && status == TC_OK) status = take(path, rig, &out->recordings[i], why);
        free(path);
    }
    for (size_t i = 0; i < 2; i++) ledger_close(shelves[i].ledger);
    return status;
}
