/* The files that a run reads. No output may take the place of one, however it
 * is spelled (another way through the folders, a link) and whatever the user
 * has allowed: device and inode tell. */
#ifndef TC_INPUTS_H
#define TC_INPUTS_H

#include <stdbool.h>
#include <stddef.h>

#include "thundercue.h"

struct inputs {
    struct input *list;
    size_t count, room;
};

/* Takes note of a file. What is not there, no file, or NULL, is passed over;
 * "-" is standard input. TC_ERR_MEMORY with *why. */
enum tc_status inputs_add(struct inputs *all, const char *path, struct tc_problem *why);

/* TC_ERR_WRITE with *why if `output` is one of them. NULL (for either) is fine. */
enum tc_status inputs_refuse(const struct inputs *all, const char *output, struct tc_problem *why);

/* True if both names lead to one file, whether it is there yet or not. NULL (for either) is fine. */
bool inputs_same(const char *a, const char *b);

void inputs_clear(struct inputs *all);

#endif
