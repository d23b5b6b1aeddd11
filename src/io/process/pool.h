/* A bounded pool of workers: besides what feeds the sound card (sound_feed) the
 * only place in the project that starts threads.
 *
 * A list of items is worked through by a fixed number of threads. All that has
 * to happen one at a time (counting, printing, writing a summary) happens on
 * the calling thread, between the items, so that nobody else needs a lock. */
#ifndef TC_POOL_H
#define TC_POOL_H

#include <stddef.h>

enum { POOL_JOBS_MOST = 64 };

/* What to do. `user` is handed through. */
struct pool_task {
    void *user;
    void (*work)(void *user, size_t item);  /* on a worker, several at once */
    void (*done)(void *user, size_t item);  /* on the caller, as items finish; may be NULL */
    void (*tick)(void *user);               /* on the caller, a few times a second; may be NULL */
};

/* Works through items 0..count-1, begun in this order, with `jobs` threads
 * (1..POOL_JOBS_MOST, no more than there are items), and returns when `done`
 * has been called for every item. Never fails: where no thread can be had, the
 * calling thread does the work. An item that should not be worked on any more
 * (after Ctrl-C) is for `work` to pass over. */
void pool_run(size_t jobs, size_t count, const struct pool_task *task);

/* The number of processors that this process may use, 1..POOL_JOBS_MOST. */
size_t pool_processors(void);

#endif
