#include "io/files/folder.h"

#include <errno.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "words/status.h"
#include "words/text.h"

enum tc_status folder_make(const char *path, struct tc_problem *why)
{
    char *part = strdup(path), plain[512];
    if (!part) return problem_set(why, TC_ERR_MEMORY, "out of memory");
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
