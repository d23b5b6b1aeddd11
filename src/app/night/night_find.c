#include "app/night/night_find.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "app/night/night_order.h"
#include "io/files/folder.h"
#include "words/status.h"
#include "words/text.h"

/* Sound that thundercue made has its running order beside it. */
static bool is_evening(const char *path)
{
    const char *dot = strrchr(path, '.');
    struct stat st;
    char order[4096];
    snprintf(order, sizeof order, "%.*s" NIGHT_ORDER_ENDING, (int)(dot ? dot - path : (long)strlen(path)), path);
    return !stat(order, &st);
}

/* Takes over the path. */
static enum tc_status add(struct night_outcome *out, char *path)
{
    const char *slash = strrchr(path, '/');
    struct night_recording *r = &out->recordings[out->recording_count++];
    r->path = path;
    r->file = strdup(slash ? slash + 1 : path);
    return r->file ? TC_OK : TC_ERR_MEMORY;
}

static enum tc_status find_in_folder(const struct night_job *job, struct night_outcome *out, struct tc_problem *why)
{
    char **paths, plain[300];
    size_t count;
    enum tc_status status = folder_recordings(job->folder, &paths, &count, why);
    if (status != TC_OK) return status;
    out->recordings = calloc(count + 1, sizeof *out->recordings);
    if (!out->recordings) status = problem_say(why, TC_ERR_MEMORY);
    for (size_t i = 0; i < count && status == TC_OK; i++) {
        if (is_evening(paths[i])) continue;
        status = add(out, paths[i]);
        paths[i] = NULL;
        if (status != TC_OK) status = problem_say(why, TC_ERR_MEMORY);
    }
    folder_list_free(paths, count);
    for (size_t i = 0; i < out->recording_count && status == TC_OK; i++)
        status = inputs_add(job->inputs, out->recordings[i].path, why);
    if (status == TC_OK && !out->recording_count)
        return problem_set(why, TC_ERR_READ, "%s: there are no recordings in this folder",
                           text_plain(plain, sizeof plain, job->folder));
    return status;
}

static enum tc_status take_under(const struct night_job *job, struct night_outcome *out, struct tc_problem *why)
{
    const char *slash = strrchr(job->under, '/');
    out->under.path = strdup(job->under);
    out->under.file = strdup(slash ? slash + 1 : job->under);
    return out->under.path && out->under.file ? TC_OK : problem_say(why, TC_ERR_MEMORY);
}

enum tc_status night_find(const struct night_job *job, struct night_outcome *out, struct tc_problem *why)
{
    struct stat st;
    char plain[300];
    enum tc_status status = find_in_folder(job, out, why);
    if (status == TC_OK && job->events && (stat(job->events, &st) || !S_ISDIR(st.st_mode)))
        return problem_set(why, TC_ERR_READ,
                           "--events: %s is no folder; give one with edited "
                           "STEM.events.csv in it, as batch --out makes it",
                           text_plain(plain, sizeof plain, job->events));
    return status == TC_OK && job->under ? take_under(job, out, why) : status;
}
