#include "writing/frames_csv.h"

#include <stdio.h>
#include <string.h>

#include "words/numbers.h"

struct frames_columns frames_columns(const struct tc_rig *rig, int64_t outputs)
{
    struct frames_columns c = { .count = rig->channel_count, .numbered = outputs > 0 };
    int highest = rig->channel_count ? rig->channels[rig->channel_count - 1].number : 0;
    if (c.numbered) c.count = (size_t)(outputs > highest ? outputs : highest);
    for (size_t i = 0; i < c.count; i++) c.channel[i] = c.numbered ? -1 : (int16_t)i;
    for (size_t i = 0; i < rig->channel_count && c.numbered; i++) c.channel[rig->channels[i].number - 1] = (int16_t)i;
    return c;
}

void frames_write_head(struct writer *w, const struct tc_rig *rig, const struct frames_columns *c)
{
    char cell[TC_NAME_SIZE + 16];
    writer_text(w, "time_s");
    for (size_t i = 0; i < c->count; i++) {
        const char *name = c->channel[i] < 0 ? "" : rig->channels[c->channel[i]].name;
        if (c->numbered) snprintf(cell, sizeof cell, "%d%s%s", (int)i + 1, *name ? " " : "", name);
        writer_text(w, ",");
        writer_name(w, c->numbered ? cell : name);
    }
    writer_text(w, "\r\n");
}

/* A level of three digits, its point and one more, with its comma. */
enum { CELL_ROOM = 8 };
_Static_assert(NUMBER_ROOM + TC_MAX_CHANNELS * CELL_ROOM + 2 <= WRITER_ROOM, "a row fits");

void frames_write_row(struct writer *w, int64_t at_ms, const uint16_t *levels, const struct frames_columns *c,
                      enum tc_levels unit)
{
    int decimals = unit == TC_LEVELS_PERCENT ? 1 : 0;
    char *end = number_fixed(writer_room(w, NUMBER_ROOM + c->count * CELL_ROOM + 2), at_ms, 3);
    for (size_t i = 0; i < c->count; i++) {
        uint16_t level = c->channel[i] < 0 ? 0 : levels[c->channel[i]];
        *end++ = ',';
        if (level || !decimals) {
            end = number_fixed(end, level, decimals);
        } else { /* dark: by far the most frequent cell */
            memcpy(end, "0.0", 3);
            end += 3;
        }
    }
    *end++ = '\r';
    *end++ = '\n';
    writer_take(w, end);
}
