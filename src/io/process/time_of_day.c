#include "io/process/time_of_day.h"

#include <stdbool.h>
#include <time.h>

int time_of_day_read(const char *text)
{
    int part[3] = { 0, 0, 0 }, count = 0;
    for (const char *at = text; count < 3; at++) {
        if (at[0] < '0' || at[0] > '9') return -1;
        part[count] = *at++ - '0';
        if (*at >= '0' && *at <= '9') part[count] = 10 * part[count] + *at++ - '0';
        count++;
        if (!*at) break;
        if (*at != ':' || count == 3) return -1;
    }
    bool fine = count >= 2 && part[0] < 24 && part[1] < 60 && part[2] < 60;
    return fine ? 3600 * part[0] + 60 * part[1] + part[2] : -1;
}

int64_t time_of_day_next(int64_t wall_s, int time_of_day)
{
    time_t now = (time_t)wall_s;
    struct tm day;
    localtime_r(&now, &day);
    for (int later = 0;; later++) {
        struct tm at = day;
        at.tm_mday += later;
        at.tm_hour = time_of_day / 3600;
        at.tm_min = time_of_day / 60 % 60;
        at.tm_sec = time_of_day % 60;
        at.tm_isdst = -1;
        time_t then = mktime(&at);
        if (then > now || later > 2) return (int64_t)then;
    }
}

int64_t wall_clock_s(void)
{
    return (int64_t)time(NULL);
}
