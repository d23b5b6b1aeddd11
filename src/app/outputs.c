#include "app/outputs.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "words/status.h"
#include "words/text.h"

static const char *const endings[OUTPUT_COUNT] = {
    [OUTPUT_EVENTS] = ".events.csv",
    [OUTPUT_RAMPS] = ".ramps.csv",
    [OUTPUT_FRAMES] = ".frames.csv",
    [OUTPUT_PREVIEW] = ".preview.html",
};

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

/* Refuses, before any work, what would be refused after it. */
static enum tc_status check_output(struct run *r, const char *path)
{
    struct stat st;
    char plain[512];
    text_plain(plain, sizeof plain, path);
    enum tc_status status = inputs_refuse(r->job->inputs, path, r->why);
    if (status != TC_OK) return status;
    if (!r->job->force && !stat(path, &st) && S_ISREG(st.st_mode))
        return problem_set(r->why, TC_ERR_EXISTS, "%s: exists already; use --force to overwrite it", plain);
    const char *slash = strrchr(path, '/');
    char *folder = slash ? strndup(path, (size_t)(slash - path) + 1) : strdup(".");
    if (!folder) return problem_set(r->why, TC_ERR_MEMORY, "out of memory");
    int error = access(folder, W_OK | X_OK) ? errno : 0;
    free(folder);
    if (!error) return TC_OK;
    return problem_set(r->why, TC_ERR_WRITE, "%s: can't be written: %s", plain, strerror(error));
}

/* One output must not replace another of the same run, --force or not. */
static enum tc_status check_apart(struct run *r, const char *path)
{
    char plain[512];
    bool twice = false;
    for (int i = 0; i < OUTPUT_COUNT && !twice; i++)
        twice = r->out->paths[i] && inputs_same(path, r->out->paths[i]);
    if (!twice) return TC_OK;
    return problem_set(r->why, TC_ERR_USAGE,
                       "%s: two outputs of this run would have this name; give --json another",
                       text_plain(plain, sizeof plain, path));
}

static enum tc_status make_folder(struct run *r, const char *path)
{
    char *part = strdup(path), plain[512];
    if (!part) return problem_set(r->why, TC_ERR_MEMORY, "out of memory");
    int failed = 0;
    for (char *at = part + 1; !failed; at++) {
        if (*at && *at != '/') continue;
        char was = *at;
        *at = 0;
        if (mkdir(part, 0777) && errno != EEXIST) failed = errno;
        *at = was;
        if (!was) break;
    }
    free(part);
    struct stat st;
    if (!failed && (stat(path, &st) || !S_ISDIR(st.st_mode))) failed = ENOTDIR;
    if (!failed) return TC_OK;
    return problem_set(r->why, TC_ERR_WRITE, "%s: the output folder can't be made: %s",
                       text_plain(plain, sizeof plain, path), strerror(failed));
}

enum tc_status outputs_name(struct run *r)
{
    const char *folder = r->job->out_dir ? r->job->out_dir : ".";
    find_stem(r->job, r->out->stem, sizeof r->out->stem);
    if (*folder) {
        enum tc_status status = make_folder(r, folder);
        if (status != TC_OK) return status;
    }
    for (int i = 0; i < OUTPUT_COUNT; i++) {
        if (i == OUTPUT_PREVIEW && !r->job->preview) continue;
        size_t room = strlen(folder) + strlen(r->out->stem) + strlen(endings[i]) + 2;
        char *path = calloc(1, room);
        if (!path) return problem_set(r->why, TC_ERR_MEMORY, "out of memory");
        bool here = !*folder || !strcmp(folder, ".");
        snprintf(path, room, "%s%s%s%s", here ? "" : folder, here ? "" : "/", r->out->stem, endings[i]);
        r->out->paths[i] = path;
        if (i == OUTPUT_EVENTS && inputs_same(path, r->job->events)) {
            free(path); /* cueing from it again: it stays as its editor left it */
            r->out->paths[i] = NULL;
            continue;
        }
        enum tc_status status = check_output(r, path);
        if (status != TC_OK) return status;
    }
    bool to_stdout = r->job->json && !strcmp(r->job->json, "-");
    if (!r->job->json || to_stdout) return TC_OK;
    enum tc_status status = check_output(r, r->job->json);
    return status == TC_OK ? check_apart(r, r->job->json) : status;
}
