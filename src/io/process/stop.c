#include "io/process/stop.h"

#include <signal.h>
#include <stdatomic.h>
#include <string.h>

/* Whether the user has asked the program to stop, and by which signal. It stands
 * in no context, since a handler can reach none; other threads read it, so it is
 * atomic (and free of locks, as signal(7) needs). */
static atomic_int stop;
_Static_assert(ATOMIC_INT_LOCK_FREE == 2, "a signal handler may not wait for a lock");

static void ask_to_stop(int signal_number)
{
    stop = signal_number;
}

static void watch(int flags)
{
    struct sigaction action;
    memset(&action, 0, sizeof action);
    action.sa_handler = ask_to_stop;
    action.sa_flags = flags;
    sigaction(SIGINT, &action, NULL);
    sigaction(SIGTERM, &action, NULL);
    sigaction(SIGHUP, &action, NULL);
    signal(SIGPIPE, SIG_IGN);
    signal(SIGXFSZ, SIG_IGN);
}

void stop_watch(void)
{
    watch((int)SA_RESETHAND); /* the second one ends the program */
}

void stop_watch_patiently(void)
{
    watch(0);
}

bool stop_asked(void)
{
    return stop != 0;
}

static bool stop_of_call(void *with)
{
    (void)with;
    return stop_asked();
}

const struct tc_watch *stop_of_calls(void)
{
    static const struct tc_watch watch = { .stop = stop_of_call };
    return &watch;
}

int stop_signal(void)
{
    return stop;
}
