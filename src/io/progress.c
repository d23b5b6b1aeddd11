#include "io/progress.h"

#include <signal.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#define EVERY_S 0.25

/* The one thing of the program that is not in a context: whether the user has
 * asked it to stop. A signal handler can reach nothing else, and workers read
 * it, so it is atomic (and free of locks, as signal(7) needs). */
static atomic_int stop;
_Static_assert(ATOMIC_INT_LOCK_FREE == 2, "a signal handler may not wait for a lock");

static void ask_to_stop(int signal_number)
{
    (void)signal_number;
    stop = 1;
}

void stop_watch(void)
{
    struct sigaction action;
    memset(&action, 0, sizeof action);
    action.sa_handler = ask_to_stop;
    action.sa_flags = (int)SA_RESETHAND; /* the second one ends the program */
    sigaction(SIGINT, &action, NULL);
    sigaction(SIGTERM, &action, NULL);
    sigaction(SIGHUP, &action, NULL);
    signal(SIGPIPE, SIG_IGN);       /* a closed pipe is an error like any other */
}

bool stop_asked(void)
{
    return stop != 0;
}

static _Thread_local bool silent;

void progress_silence(bool on)
{
    silent = on;
}

void progress_show(const char *text)
{
    static _Thread_local double last;
    if (silent || !isatty(STDERR_FILENO)) return;
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    double t = (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
    if (t - last < EVERY_S) return;
    last = t;
    fprintf(stderr, "\r\033[K%s", text);
}

void progress_clear(void)
{
    if (!silent && isatty(STDERR_FILENO)) fputs("\r\033[K", stderr);
}
