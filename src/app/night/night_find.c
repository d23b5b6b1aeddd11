#include "app/night/night_find.h"

#include <dirent.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "app/night/night_order.h"
#include "io/files/folder.h"
#include "io/sound/sound_kind.h"
#include "words/status.h"
#include "words/text.h"

static enum tc_status no_memory(struct tc_problem *why)
{
    return problem_set(why, TC_ERR_MEMORY, "%s", tc_status_text(TC_ERR_MEMORY));
}

/* Sound that thundercue made has its running order beside it. */
static bool is_evening(const char *path)
{
    const char *dot = strrchr(path, '.');
    struct stat st;
    char order[4096];
    snprintf(order, sizeof order, "%.*s" NIGHT_ORDER_ENDING, (int)(dot ? dot - path : (long)strlen(path)), path);
    return !stat(order, &st);
}

static bool is_recording(const char *path)
{
    struct stat st;
    return !stat(path, &st) && S_ISREG(st.st_mode) && sound_looks_like(path) && !is_evening(path);
}

static enum tc_status add(struct night_outcome *out, const char *folder, const char *file)
{
    struct night_recording *r = &out->recordings[out->recording_count];
    if (!(r->path = folder_join(folder, file))) return TC_ERR_MEMORY;
    if (!is_recording(r->path)) {
        free(r->path);
        *r = (struct night_recording){ 0 };
        return TC_OK;
    }
    r->file = strdup(file);
    out->recording_count++;
    return r->file ? TC_OK : TC_ERR_MEMORY;
}

static enum tc_status find_in_folder(const struct night_job *job, struct night_outcome *out, struct tc_problem *why)
{
    struct dirent **entries;
    char plain[300];
    text_plain(plain, sizeof plain, job->folder);
    int count = scandir(job->folder, &entries, NULL, alphasort);
    if (count < 0) return problem_set(why, TC_ERR_READ, "%s: the folder can't be read: %s", plain, strerror(errno));
    out->recordings = calloc((size_t)count + 1, sizeof *out->recordings);
    enum tc_status status = out->recordings ? TC_OK : TC_ERR_MEMORY;
    for (int i = 0; i < count; i++) {
        if (status == TC_OK && entries[i]->d_name[0] != '.') status = add(out, job->folder, entries[i]->d_name);
        free(entries[i]);
    }
    free(entries);
    if (status != TC_OK) return no_memory(why);
    for (size_t i = 0; i < out->recording_count && status == TC_OK; i++)
        status = inputs_add(job->inputs, out->recordings[i].path, why);
    if (status == TC_OK && !out->recording_count)
        return problem_set(why, TC_ERR_READ, "%s: there are no recordings in this folder", plain);
    return status;
}

static enum tc_status take_under(const struct night_job *job, struct night_outcome *out, struct tc_problem *why)
{
    const char *slash = strrchr(job->under, '/');
    out->under.path = strdup(job->under);
    out->under.file = strdup(slash ? slash + 1 : job->under);
    return out->under.path && out->under.file ? TC_OK : no_memory(why);
}

enum tc_status night_find(const struct night_job *job, struct night_outcome *out, struct tc_problem *why)
{
    struct stat st;
    char plain[300];
    enum tc_status status = find_in_folder(job, out, why);
    if (status == TC_OK && job->events && (stat(job->events, &st) || !S_ISDIR(st.st_mode)))
        return problem_set(why, TC_ERR_READ, "--events: %s is no folder; give one with edited STEM.events.csv in it, as batch --out makes it",
                           text_plain(plain, sizeof plain, job->events));
    return status == TC_OK && job->under ? take_under(job, out, why) : status;
}
