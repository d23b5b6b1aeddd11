/* Time that only runs forward: for measuring, never for the date. */
#ifndef TC_CLOCK_H
#define TC_CLOCK_H

#include <stdbool.h>

/* Seconds since some moment; setting the date doesn't change it. */
double clock_now_s(void);

/* Sleeps until then; returns early when a signal comes. */
void clock_sleep_until(double when_s);

/* Asks the system to run the calling thread ahead of ordinary work, for light
 * that must be on time, and `first` ahead of those, too, and to keep what memory
 * the program has by now from being swapped out; where that is not allowed
 * nothing changes. */
void clock_hurry(bool first);

#endif
