#include "io/files/folder.h"

#include <dirent.h>
#include <errno.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "io/sound/sound_kind.h"
#include "words/status.h"
#include "words/text.h"

enum tc_status folder_make(const char *path, struct tc_problem *why)
{
    char *part = strdup(path), plain[512];
    if (!part) return problem_say(why, TC_ERR_MEMORY);
    for (char *at = part; *part && *++at;) {
        if (*at != '/') continue;
        *at = 0;
        mkdir(part, 0777); /* what matters is the last one */
        *at = '/';
    }
    free(part);
    int error = mkdir(path, 0777) ? errno : 0;
    struct stat st;
    if (error) error = stat(path, &st) ? error == EEXIST ? errno : error : S_ISDIR(st.st_mode) ? 0 : ENOTDIR;
    if (!error) return TC_OK;
    return problem_set(why, TC_ERR_WRITE, "%s: the output folder can't be made: %s",
                       text_plain(plain, sizeof plain, path), strerror(error));
}

char *folder_join(const char *folder, const char *name)
{
    size_t n = strlen(folder), room = n + strlen(name) + 2;
    char *path = calloc(1, room);
    bool slash = n && *name && folder[n - 1] != '/';
    if (path) snprintf(path, room, "%s%s%s", folder, slash ? "/" : "", name);
    return path;
}

static bool is_recording(const char *path)
{
    struct stat st;
    return !stat(path, &st) && S_ISREG(st.st_mode) && sound_looks_like(path);
}

enum tc_status folder_recordings(const char *folder, char ***paths, size_t *count, struct tc_problem *why)
{
    struct dirent **entries;
    char plain[512];
    *paths = NULL;
    *count = 0;
    int n = scandir(folder, &entries, NULL, alphasort);
    if (n < 0)
        return problem_set(why, TC_ERR_READ, "%s: the folder can't be read: %s",
                           text_plain(plain, sizeof plain, folder), strerror(errno));
    char **list = calloc((size_t)n + 1, sizeof *list);
    bool whole = list != NULL;
    size_t found = 0;
    for (int i = 0; i < n; i++) {
        const bool hidden = entries[i]->d_name[0] == '.';
        char *path = whole && !hidden ? folder_join(folder, entries[i]->d_name) : NULL;
        whole = whole && (path || hidden);
        if (path && is_recording(path)) list[found++] = path;
        else free(path);
        free(entries[i]);
    }
    free(entries);
    if (!whole) {
        folder_list_free(list, found);
        return problem_say(why, TC_ERR_MEMORY);
    }
    *paths = list;
    *count = found;
    return TC_OK;
}

void folder_list_free(char **paths, size_t count)
{
    for (size_t i = 0; paths && i < count; i++) free(paths[i]);
    free(paths);
}
