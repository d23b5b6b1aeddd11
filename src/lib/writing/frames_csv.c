#include "writing/frames_csv.h"

#include <string.h>

#include "words/numbers.h"

void frames_write_head(struct writer *w, const struct tc_rig *rig)
{
    writer_text(w, "time_s");
    for (size_t i = 0; i < rig->channel_count; i++) {
        writer_text(w, ",");
        writer_cell(w, rig->channels[i].name, true);
    }
    writer_text(w, "\r\n");
}

/* A level of three digits, its point and one more, with its comma. */
enum { CELL_ROOM = 8 };
_Static_assert(NUMBER_ROOM + TC_MAX_CHANNELS * CELL_ROOM + 2 <= WRITER_ROOM, "a row fits");

void frames_write_row(struct writer *w, int64_t at_ms, const uint16_t *levels, size_t channels, enum tc_levels unit)
{
    int decimals = unit == TC_LEVELS_PERCENT ? 1 : 0;
    char *end = number_fixed(writer_room(w, NUMBER_ROOM + channels * CELL_ROOM + 2), at_ms, 3);
    for (size_t i = 0; i < channels; i++) {
        *end++ = ',';
        if (levels[i] || !decimals) {
            end = number_fixed(end, levels[i], decimals);
        } else { /* dark: by far the most frequent cell */
            memcpy(end, "0.0", 3);
            end += 3;
        }
    }
    *end++ = '\r';
    *end++ = '\n';
    writer_take(w, end);
}
