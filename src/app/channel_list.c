#include "app/channel_list.h"

#include <stdio.h>

/* The last of the channels from this one on that follow each other by number. */
static size_t last_in_row(const struct tc_rig *rig, const bool *which, size_t c)
{
    const struct tc_channel *list = rig->channels;
    while (c + 1 < rig->channel_count && which[c + 1] == which[c] && list[c + 1].number == list[c].number + 1) c++;
    return c;
}

size_t channel_list(char *to, size_t size, const struct tc_rig *rig, const bool *which, bool wanted)
{
    enum { ONE_MORE = 16 }; /* ", 511-512" or ", ..." */
    size_t used = 0, count = 0;
    bool full = false;
    *to = 0;
    for (size_t c = 0; c < rig->channel_count; c++) {
        if (which[c] != wanted) continue;
        size_t first = c;
        c = last_in_row(rig, which, first);
        count += c - first + 1;
        if (full) continue;
        const char *gap = used ? ", " : "";
        full = used + 2 * ONE_MORE > size;
        if (full) snprintf(to + used, size - used, "%s...", gap);
        else if (c == first) used += (size_t)snprintf(to + used, size - used, "%s%d", gap, rig->channels[c].number);
        else used += (size_t)snprintf(to + used, size - used, "%s%d-%d", gap, rig->channels[first].number, rig->channels[c].number);
    }
    return count;
}
