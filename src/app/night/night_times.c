#include "app/night/night_times.h"

#include <stdio.h>
#include <string.h>

int64_t night_length_read(const char *text)
{
    int64_t part[3] = { 0 };
    size_t at = 0;
    for (int i = 0; i < 3; i++) {
        size_t from = at;
        while (text[at] >= '0' && text[at] <= '9' && at < from + 2) part[i] = 10 * part[i] + (text[at++] - '0');
        if (at == from || (i > 0 && (at != from + 2 || part[i] > 59))) return -1;
        if (i < 2 && text[at++] != ':') return -1;
    }
    int64_t s = 3600 * part[0] + 60 * part[1] + part[2];
    return !text[at] && s <= NIGHT_DAY_S ? 1000 * s : -1;
}

bool night_range_read(const char *range, char *first, char *second, size_t size)
{
    const char *dots = strstr(range, "..");
    if (!dots || (size_t)(dots - range) >= size || strlen(dots + 2) >= size) return false;
    snprintf(first, size, "%.*s", (int)(dots - range), range);
    snprintf(second, size, "%s", dots + 2);
    return true;
}

int64_t night_after(int day_s, int start_day_s)
{
    return 1000 * (int64_t)((day_s - start_day_s + NIGHT_DAY_S) % NIGHT_DAY_S);
}

const char *night_clock(char *to, int64_t ms, int start_day_s)
{
    int64_t s = (ms + 500) / 1000;
    if (start_day_s != NIGHT_NO_DAY) s = (s + start_day_s) % NIGHT_DAY_S;
    snprintf(to, NIGHT_CLOCK_ROOM, start_day_s == NIGHT_NO_DAY ? "%lld:%02d:%02d" : "%02lld:%02d:%02d",
             (long long)(s / 3600),
             (int)(s / 60 % 60), (int)(s % 60));
    return to;
}
