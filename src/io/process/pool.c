#include "io/process/pool.h"

#include <pthread.h>
#include <sched.h>
#include <signal.h>
#include <stdbool.h>
#include <stdlib.h>
#include <time.h>

/* Room for a worker's calls; what the system gives by default would be missed where
 * memory is short. */
enum { STACK_BYTES = 1 << 20 };

enum { TICK_NS = 250000000, SECOND_NS = 1000000000 };

/* Items go in at one end, their numbers come out at the other as they finish.
 * `finished` has room for all, so that a worker never waits for the caller. */
struct pool {
    const struct pool_task *task;
    size_t count;
    pthread_mutex_t lock;
    pthread_cond_t progress;    /* something was finished */
    size_t next;                /* the item that is begun next */
    size_t *finished;
    size_t finished_count;
};

static void *worker(void *argument)
{
    struct pool *p = argument;
    pthread_mutex_lock(&p->lock);
    while (p->next < p->count) {
        size_t item = p->next++;
        pthread_mutex_unlock(&p->lock);
        p->task->work(p->task->user, item);
        pthread_mutex_lock(&p->lock);
        p->finished[p->finished_count++] = item;
        pthread_cond_signal(&p->progress);
    }
    pthread_mutex_unlock(&p->lock);
    return NULL;
}

static struct timespec tick_from_now(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    t.tv_nsec += TICK_NS;
    if (t.tv_nsec >= SECOND_NS) t.tv_sec++, t.tv_nsec -= SECOND_NS;
    return t;
}

/* Hands out what was finished, until all was. */
static void collect(struct pool *p)
{
    size_t told = 0;
    struct timespec until = tick_from_now();
    while (told < p->count) {
        pthread_mutex_lock(&p->lock);
        bool waited_long = false;
        while (told == p->finished_count && !waited_long)
            waited_long = pthread_cond_timedwait(&p->progress, &p->lock, &until) != 0;
        size_t finished = p->finished_count;
        pthread_mutex_unlock(&p->lock);
        for (; told < finished; told++)
            if (p->task->done) p->task->done(p->task->user, p->finished[told]);
        if (!waited_long) continue;
        if (p->task->tick) p->task->tick(p->task->user);
        until = tick_from_now();
    }
}

/* Signals go to the calling thread alone. */
static size_t start_workers(struct pool *p, pthread_t *threads, size_t jobs)
{
    sigset_t all, before;
    sigfillset(&all);
    pthread_sigmask(SIG_SETMASK, &all, &before);
    size_t started = 0;
    pthread_attr_t small;
    bool begun = !pthread_attr_init(&small), fit = begun && !pthread_attr_setstacksize(&small, STACK_BYTES);
    while (started < jobs && !pthread_create(&threads[started], fit ? &small : NULL, worker, p)) started++;
    if (begun) pthread_attr_destroy(&small);
    pthread_sigmask(SIG_SETMASK, &before, NULL);
    return started;
}

static void run_here(size_t count, const struct pool_task *task)
{
    for (size_t i = 0; i < count; i++) {
        task->work(task->user, i);
        if (task->done) task->done(task->user, i);
        if (task->tick) task->tick(task->user);
    }
}

void pool_run(size_t jobs, size_t count, const struct pool_task *task)
{
    pthread_t threads[POOL_JOBS_MOST];
    if (jobs > POOL_JOBS_MOST) jobs = POOL_JOBS_MOST;
    if (jobs > count) jobs = count;

    struct pool p = { .task = task, .count = count };
    p.finished = calloc(count + 1, sizeof *p.finished);
    pthread_condattr_t clock;
    if (!p.finished || pthread_condattr_init(&clock)) {
        free(p.finished);
        run_here(count, task);
        return;
    }
    pthread_condattr_setclock(&clock, CLOCK_MONOTONIC); /* no jumps when the date is set */
    pthread_cond_init(&p.progress, &clock);
    pthread_condattr_destroy(&clock);
    pthread_mutex_init(&p.lock, NULL);

    size_t started = start_workers(&p, threads, jobs);
    if (started) collect(&p);
    else run_here(count, task);
    for (size_t i = 0; i < started; i++) pthread_join(threads[i], NULL);

    pthread_mutex_destroy(&p.lock);
    pthread_cond_destroy(&p.progress);
    free(p.finished);
}

size_t pool_processors(void)
{
    cpu_set_t set;
    int n = sched_getaffinity(0, sizeof set, &set) ? 1 : CPU_COUNT(&set);
    return n < 1 ? 1 : n > POOL_JOBS_MOST ? POOL_JOBS_MOST : (size_t)n;
}
