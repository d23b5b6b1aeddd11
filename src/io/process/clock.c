#include "io/process/clock.h"

#include <sched.h>
#include <sys/mman.h>
#include <time.h>

double clock_now_s(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

void clock_sleep_until(double when_s)
{
    struct timespec t = { .tv_sec = (time_t)when_s };
    t.tv_nsec = (long)(1e9 * (when_s - (double)t.tv_sec));
    if (when_s > 0) clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, &t, NULL);
}

void clock_hurry(bool first)
{
    struct sched_param least = { .sched_priority = sched_get_priority_min(SCHED_RR) + first };
    sched_setscheduler(0, SCHED_RR, &least);
#ifdef MCL_ONFAULT
    mlockall(MCL_CURRENT | MCL_ONFAULT); /* only what is in use, not whole stacks */
#endif
}
