/* A piece of work in a process of its own: what crashes in there, or takes all
 * memory, ends that process and nothing else. */
#ifndef TC_CHILD_H
#define TC_CHILD_H

#include <stdatomic.h>
#include <stddef.h>

#include "thundercue.h"

enum child_end {
    CHILD_ANSWERED,
    CHILD_SIGNALLED,   /* *how is the signal that ended it */
    CHILD_EXITED,      /* without an answer; *how is its exit status */
};

enum { CHILD_ANSWER_MOST = 4096 }; /* bytes that a pipe takes at once */

/* Calls task(user, answer) in a new process and waits until it has ended; what
 * the task left in the `size` bytes of *answer then stands in the caller's. All
 * else that it does to memory stays in the process. Asked to stop, the child is
 * asked too. The descriptor `keep` (-1 = none) stays open in the child, no other
 * but the standard ones. Where there are no descriptors or processes to be had,
 * it waits for those of other threads, which *running counts; with none of them
 * the task runs here. */
enum child_end child_run(void (*task)(void *user, void *answer), void *user, void *answer, size_t size, int keep,
                         atomic_int *running, int *how);

/* What to say of a process that ended without an answer: "clap.wav: hearing it
 * crashed (...); the other recordings are not touched by that". */
void child_say(enum child_end end, int how, const char *path, const char *doing, const char *others,
               struct tc_problem *to);

/* How many children at once the limits on open files and on memory leave room
 * for; 0 = one, and no thread besides the caller's. */
size_t child_room(void);

#endif
