#include "writing/frames_csv.h"

#include <string.h>

#include "words/csv.h"
#include "words/numbers.h"

void frames_write_head(FILE *out, const struct tc_rig *rig)
{
    fputs("time_s", out);
    for (size_t i = 0; i < rig->channel_count; i++) {
        putc(',', out);
        csv_cell(out, rig->channels[i].name, true);
    }
    fputs("\r\n", out);
}

void frames_write_row(FILE *out, char *row, int64_t at_ms, const uint16_t *levels, size_t channels,
                      enum tc_levels unit)
{
    int decimals = unit == TC_LEVELS_PERCENT ? 1 : 0;
    char *end = number_fixed(row, at_ms, 3);
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
    fwrite(row, 1, (size_t)(end - row), out);
}
