#include "app/report/channel_list.h"

#include <stdio.h>
#include <string.h>

#include "words/numbers.h"
#include "words/text.h"

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
        else used += (size_t)snprintf(to + used, size - used, "%s%d-%d", gap, rig->channels[first].number,
                                      rig->channels[c].number);
    }
    return count;
}

static size_t by_number(const struct tc_rig *rig, const char *word)
{
    int64_t n;
    size_t c = 0;
    if (!number_read_whole(word, &n)) return rig->channel_count;
    while (c < rig->channel_count && rig->channels[c].number != n) c++;
    return c;
}

static size_t by_name(const struct tc_rig *rig, const char *word)
{
    size_t c = 0;
    while (c < rig->channel_count && !text_same(rig->channels[c].name, word)) c++;
    return c;
}

/* Both ends must be there; numbers between them that the rig lacks are passed over. */
static size_t by_range(const struct tc_rig *rig, const char *word, size_t *channels)
{
    char first[8];
    size_t digits = strcspn(word, "-"), count = 0;
    if (!digits || digits >= sizeof first || !word[digits]) return 0;
    snprintf(first, sizeof first, "%.*s", (int)digits, word);
    size_t from = by_number(rig, first), to = by_number(rig, word + digits + 1);
    if (from == rig->channel_count || to == rig->channel_count) return 0;
    for (size_t c = from; c <= to; c++) channels[count++] = c; /* channels lie by their numbers */
    return count;
}

size_t channel_list_find(const struct tc_rig *rig, const char *word, size_t *channels)
{
    *channels = by_number(rig, word);
    if (*channels == rig->channel_count) *channels = by_name(rig, word);
    return *channels < rig->channel_count ? 1 : by_range(rig, word, channels);
}
