/* Times of day, by the wall clock and the local time. */
#ifndef TC_TIME_OF_DAY_H
#define TC_TIME_OF_DAY_H

#include <stdint.h>

/* Time of day from "19:30" or "19:30:15" in seconds; -1 if it is none. */
int time_of_day_read(const char *text);
/* The next such moment after `wall_s` by the local time, in seconds since 1970. */
int64_t time_of_day_next(int64_t wall_s, int time_of_day);
/* The wall clock, in seconds since 1970. */
int64_t wall_clock_s(void);

#endif
