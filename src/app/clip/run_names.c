#include "app/clip/run_names.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "app/clip/run_hear.h"
#include "io/files/folder.h"
#include "io/files/keepsake.h"
#include "words/status.h"
#include "words/text.h"

char *run_file_path(const char *folder, const char *stem, int which)
{
    const char *ending = run_file(which)->ending;
    size_t n = strlen(folder), room = n + strlen(stem) + strlen(ending) + 2;
    char *path = calloc(1, room);
    if (path) snprintf(path, room, "%s%s%s%s", folder, n && folder[n - 1] != '/' ? "/" : "", stem, ending);
    return path;
}

/* "storm/clap.wav" -> "clap"; an edited "clap.events.csv" -> "clap". */
static void find_stem(const struct job *job, char *stem, size_t size)
{
    const char *from = job->recording ? job->recording : job->events;
    if (job->stem) from = job->stem;
    const char *slash = strrchr(from, '/');
    snprintf(stem, size, "%s", slash ? slash + 1 : from);
    if (job->stem) return;
    if (!strcmp(stem, "-")) snprintf(stem, size, "input");
    char *dot = strrchr(stem, '.');
    if (dot && dot != stem) *dot = 0;
    char *events = strstr(stem, ".events");
    if (!job->recording && events && events != stem && !events[7]) *events = 0;
}

/* A folder that files can be made in, and a name that it takes. */
static enum tc_status check_place(struct run *r, const char *path)
{
    struct stat st;
    char plain[512];
    const char *slash = strrchr(path, '/');
    char *folder = slash ? strndup(path, (size_t)(slash - path) + 1) : strdup(".");
    if (!folder) return problem_say(r->why, TC_ERR_MEMORY);
    int error = access(folder, W_OK | X_OK) ? errno : lstat(path, &st) && errno == ENAMETOOLONG ? errno : 0;
    free(folder);
    if (!error) return TC_OK;
    return problem_set(r->why, TC_ERR_WRITE, "%s: can't be written: %s", text_plain(plain, sizeof plain, path),
                       strerror(error));
}

/* Refuses, before any work, what would be refused after it. */
static enum tc_status check_output(struct run *r, const struct ledger *ledger, const char *path, bool is_events)
{
    char plain[512];
    enum tc_status status = inputs_refuse(r->job->inputs, path, r->why);
    if (status != TC_OK) return status;
    status = ledger_check(ledger, path, r->job->over, r->why);
    if (status == TC_ERR_EXISTS && is_events && ledger_look(ledger, path) == LEDGER_EDITED)
        return problem_set(r->why, TC_ERR_EXISTS, r->extra
                           ? "%s: was edited since thundercue wrote it, but an evening "
                             "is built from the events beside its recordings; "
                             "--discard-edits overwrites it"
                           : "%s: was edited since thundercue wrote it; cue from it with "
                             "--events, or listen anew with --discard-edits",
                           text_plain(plain, sizeof plain, path));
    return status == TC_OK ? check_place(r, path) : status;
}

/* The report for machines goes where the user says, devices included. */
static enum tc_status check_json(struct run *r, const char *path)
{
    struct stat st;
    char plain[512];
    enum tc_status status = inputs_refuse(r->job->inputs, path, r->why);
    if (status != TC_OK) return status;
    if (r->job->over == OVER_NOTHING && !stat(path, &st) && S_ISREG(st.st_mode))
        return problem_set(r->why, TC_ERR_EXISTS, "%s: exists already; use --force to overwrite it",
                           text_plain(plain, sizeof plain, path));
    status = keepsake_refuse(path, false, r->why);
    return status == TC_OK ? check_place(r, path) : status;
}

/* One output must not replace another of the same run, --force or not. */
static enum tc_status check_apart(struct run *r, const char *path)
{
    char plain[512];
    bool twice = false;
    for (int i = 0; i < RUN_FILES && !twice; i++)
        twice = r->out->paths[i] && inputs_same(path, r->out->paths[i]);
    if (!twice) return TC_OK;
    return problem_set(r->why, TC_ERR_USAGE,
                       "%s: two outputs of this run would have this name; give --json another",
                       text_plain(plain, sizeof plain, path));
}

static enum tc_status name_all(struct run *r, const char *folder, const struct ledger *ledger)
{
    for (int i = 0; i < RUN_FILES; i++) {
        if (i == RUN_PAGE && !r->job->preview) continue;
        bool here = !*folder || !strcmp(folder, ".");
        char *path = run_file_path(here ? "" : folder, r->out->stem, i);
        if (!path) return problem_say(r->why, TC_ERR_MEMORY);
        r->out->paths[i] = path;
        if (i == RUN_EVENTS && inputs_same(path, r->job->events)) {
            free(path); /* cueing from it again: it stays as its editor left it */
            r->out->paths[i] = NULL;
            continue;
        }
        enum tc_status status = check_output(r, ledger, path, i == RUN_EVENTS);
        if (status != TC_OK) return status;
    }
    return TC_OK;
}

enum tc_status run_name_files(struct run *r)
{
    const char *folder = r->job->out_dir ? r->job->out_dir : ".";
    struct ledger *ledger = NULL;
    find_stem(r->job, r->out->stem, sizeof r->out->stem);
    enum tc_status status = *folder ? folder_make(folder, r->why) : TC_OK;
    if (status == TC_OK) status = ledger_open(&ledger, folder, r->why);
    if (status == TC_OK) status = name_all(r, folder, ledger);
    ledger_close(ledger);
    if (status != TC_OK || !r->job->json || !strcmp(r->job->json, "-")) return status;
    status = check_json(r, r->job->json);
    return status == TC_OK ? check_apart(r, r->job->json) : status;
}

void run_remark_older_page(struct run *r)
{
    struct stat st;
    char sentence[300], plain[256];
    char *path = r->job->preview ? NULL : run_file_path(r->job->out_dir ? r->job->out_dir : "", r->out->stem, RUN_PAGE);
    if (path && !stat(path, &st)) {
        const char *slash = strrchr(path, '/');
        snprintf(sentence, sizeof sentence, "%s shows an earlier timeline",
                 text_plain(plain, sizeof plain, slash ? slash + 1 : path));
        run_remark(r, sentence);
    }
    free(path);
}

enum tc_status run_check_more(struct run *r, const char *path)
{
    struct ledger *ledger = NULL;
    enum tc_status status = ledger_open(&ledger, r->job->out_dir ? r->job->out_dir : ".", r->why);
    if (status == TC_OK) status = check_output(r, ledger, path, false);
    ledger_close(ledger);
    return status;
}
