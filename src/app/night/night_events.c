#include "app/night/night_events.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/clip/output_names.h"
#include "app/clip/run_hear.h"
#include "app/clip/run_names.h"
#include "io/files/ledger.h"
#include "io/files/read_form.h"
#include "marks/events_take.h"
#include "words/status.h"
#include "words/text.h"

/* A folder that is looked into. */
struct shelf {
    const char *folder;
    struct ledger *ledger;
};

/* Names for all that a batch can open, whether it can then be heard or not: as a batch has them. */
static struct output_name *name_all(const struct night_outcome *out, size_t *count)
{
    struct output_name *list = calloc(out->recording_count + 1, sizeof *list);
    *count = 0;
    for (size_t i = 0; list && i < out->recording_count; i++)
        if (out->recordings[i].rate > 0) list[(*count)++].file = out->recordings[i].file;
    return list;
}

static void free_names(struct output_name *list, size_t count)
{
    for (size_t i = 0; i < count; i++) free(list[i].name);
    free(list);
}

/* The user's events file of a name; NULL if there is none. The caller frees it. */
static char *find(const struct shelf *shelf, const char *name)
{
    char *path = run_file_path(shelf->folder, name, RUN_EVENTS);
    enum ledger_word word = path ? ledger_look(shelf->ledger, path) : LEDGER_ABSENT;
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

static enum tc_status take(const char *path, const struct tc_rig *rig, struct night_recording *r,
                           struct tc_problem *why)
{
    struct marks m;
    size_t left_out = 0;
    enum tc_status status = read_marks(path, &m, why);
    if (status == TC_OK && marks_take(&m, &r->heard, &left_out) != TC_OK)
        status = problem_say(why, TC_ERR_MEMORY);
    if (status == TC_OK) status = run_check_paths(&r->heard, rig, path, why);
    if (status == TC_OK) add_note(r, path, left_out);
    marks_clear(&m);
    return status;
}

enum tc_status night_events_take(const struct night_job *job, const struct tc_rig *rig, struct night_outcome *out,
                                 struct tc_problem *why)
{
    struct shelf shelves[] = { { job->events, NULL }, { job->folder, NULL } };
    size_t count = 0, next = 0;
    struct output_name *names = name_all(out, &count);
    enum tc_status status = names && output_names_find(names, count) ? TC_OK : problem_say(why, TC_ERR_MEMORY);
    for (size_t i = 0; i < 2 && status == TC_OK; i++)
        if (shelves[i].folder) status = ledger_open(&shelves[i].ledger, shelves[i].folder, why);
    for (size_t i = 0; i < out->recording_count && status == TC_OK; i++) {
        char *path = NULL;
        if (next == count || names[next].file != out->recordings[i].file) continue;
        const char *name = names[next++].name;
        if (out->recordings[i].status != TC_OK) continue;
        for (size_t k = 0; k < 2 && !path; k++)
            if (shelves[k].folder) path = find(&shelves[k], name);
        if (path) status = inputs_add(job->inputs, path, why);
        if (path && status == TC_OK) status = take(path, rig, &out->recordings[i], why);
        free(path);
    }
    for (size_t i = 0; i < 2; i++) ledger_close(shelves[i].ledger);
    free_names(names, count);
    return status;
}
