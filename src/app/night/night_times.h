/* Times of an evening as they are typed and told: lengths, times of day. */
#ifndef TC_NIGHT_TIMES_H
#define TC_NIGHT_TIMES_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { NIGHT_NO_DAY = -1, NIGHT_DAY_S = 24 * 3600, NIGHT_CLOCK_ROOM = 24 };

/* "4:00:00" in milliseconds, up to a day; -1 if it is none. */
int64_t night_length_read(const char *text);

/* "FIRST..SECOND" cut in two. False if it is none, or too long to be one. */
bool night_range_read(const char *range, char *first, char *second, size_t size);

/* When a time of day comes in an evening that starts at another: 0 up to a day, in milliseconds. */
int64_t night_after(int day_s, int start_day_s);

/* A moment of the evening as the visitors' clocks show it, "19:41:12"; with
 * NIGHT_NO_DAY as it counts from the start, "0:11:12". */
const char *night_clock(char *to, int64_t ms, int start_day_s);
#define NIGHT_CLOCK(ms, start_day_s) night_clock((char[NIGHT_CLOCK_ROOM]){ "" }, (ms), (start_day_s))

#endif
