#include "io/files/inputs.h"

#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "words/status.h"
#include "words/text.h"

struct input {
    dev_t device;
    ino_t inode;
};

enum { ROOM_FIRST = 8 };

enum tc_status inputs_add(struct inputs *all, const char *path, struct tc_problem *why)
{
    struct stat st;
    if (!path || (strcmp(path, "-") ? stat(path, &st) : fstat(STDIN_FILENO, &st)) || !S_ISREG(st.st_mode)) return TC_OK;
    if (all->count == all->room) {
        size_t room = all->room ? 2 * all->room : ROOM_FIRST;
        struct input *more = realloc(all->list, room * sizeof *more);
        if (!more) return problem_say(why, TC_ERR_MEMORY);
        all->list = more;
        all->room = room;
    }
    all->list[all->count++] = (struct input){ st.st_dev, st.st_ino };
    return TC_OK;
}

enum tc_status inputs_refuse(const struct inputs *all, const char *output, struct tc_problem *why)
{
    struct stat st;
    char plain[512];
    if (!all || !output || stat(output, &st)) return TC_OK;
    for (size_t i = 0; i < all->count; i++)
        if (all->list[i].device == st.st_dev && all->list[i].inode == st.st_ino)
            return problem_set(why, TC_ERR_WRITE, "%s: is an input of this run; choose another name for the output",
                               text_plain(plain, sizeof plain, output));
    return TC_OK;
}

static const char *base_of(const char *path)
{
    const char *slash = strrchr(path, '/');
    return slash ? slash + 1 : path;
}

static bool same_inode(const char *a, const char *b)
{
    struct stat x, y;
    return !stat(a, &x) && !stat(b, &y) && x.st_dev == y.st_dev && x.st_ino == y.st_ino;
}

bool inputs_same(const char *a, const char *b)
{
    if (!a || !b) return false;
    if (!strcmp(a, b) || same_inode(a, b)) return true;
    const char *name = base_of(a), *other = base_of(b);
    if (strcmp(name, other)) return false;
    char *folder = name > a ? strndup(a, (size_t)(name - a)) : strdup(".");
    char *beside = other > b ? strndup(b, (size_t)(other - b)) : strdup(".");
    bool same = !folder || !beside || same_inode(folder, beside); /* out of memory: rather refuse */
    free(folder);
    free(beside);
    return same;
}

void inputs_clear(struct inputs *all)
{
    free(all->list);
    *all = (struct inputs){ 0 };
}
