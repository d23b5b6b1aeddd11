#include "rig/channel_set.h"

#include "words/memory.h"

enum tc_status channel_sets_create(struct channel_sets *out, const struct tc_rig *rig)
{
    *out = (struct channel_sets){ .rig = rig, .floods = memory_new(rig->channel_count + 1, sizeof *out->floods) };
    if (!out->floods) return TC_ERR_MEMORY;
    for (size_t c = 0; c < rig->channel_count; c++)
        if (rig->channels[c].kind == TC_FLOOD) out->floods[out->flood_count++] = (uint16_t)c;
    return TC_OK;
}

void channel_sets_clear(struct channel_sets *s)
{
    memory_free(s->floods);
    *s = (struct channel_sets){ .rig = NULL };
}

/* From a branch on, to what it grows from. */
static bool next_of_path(const struct tc_rig *rig, size_t tip, size_t *i, size_t *channel)
{
    int64_t at = *i ? rig->channels[*channel].parent : (int64_t)tip;
    if (at < 0 || (size_t)at >= rig->channel_count || ++*i > rig->channel_count) return false;
    *channel = (size_t)at;
    return true;
}

static bool next_flood(const struct channel_sets *s, int side, size_t *i, size_t *channel)
{
    size_t half = s->flood_count / 2;
    size_t from = side == TC_SIDE_SECOND ? half : 0,
        to = side == TC_SIDE_FIRST ? s->flood_count - half : s->flood_count;
    if (from + *i >= to) return false;
    *channel = s->floods[from + (*i)++];
    return true;
}

bool channel_sets_next(const struct channel_sets *s, uint16_t set, size_t *i, size_t *channel)
{
    if (set >= TC_SET_PATH) return next_of_path(s->rig, (size_t)(set - TC_SET_PATH), i, channel);
    if (set >= TC_SET_FLOODS) return next_flood(s, set - TC_SET_FLOODS, i, channel);
    *channel = set;
    return set < s->rig->channel_count && !(*i)++;
}
