#include "writing/columns.h"

#include <string.h>

#include "words/memory.h"

enum { MOST_COLUMNS = 4096 };

enum tc_status columns_create(struct columns *out, size_t channels, uint32_t frames)
{
    size_t count = MOST_COLUMNS;
    if (count * channels > COLUMN_CELLS_MOST) count = COLUMN_CELLS_MOST / channels;
    if (count > frames) count = frames;
    *out = (struct columns){ .count = count, .channels = channels, .frames = frames };
    out->level = memory_new(count * channels + 1, sizeof *out->level);
    out->flashes = memory_new(count + 1, sizeof *out->flashes);
    if (out->level && out->flashes) return TC_OK;
    columns_clear(out);
    return TC_ERR_MEMORY;
}

void columns_step(struct columns *c, const uint16_t *levels, int flashes)
{
    if (c->at >= c->frames) return;
    size_t column = (size_t)((uint64_t)c->at++ * c->count / c->frames);
    uint16_t *most = c->level + column * c->channels;
    for (size_t i = 0; i < c->channels; i++)
        if (levels[i] > most[i]) most[i] = levels[i];
    uint8_t rate = (uint8_t)(flashes < 0 ? 0 : flashes > 255 ? 255 : flashes);
    if (rate > c->flashes[column]) c->flashes[column] = rate;
}

void columns_clear(struct columns *c)
{
    memory_free(c->level);
    memory_free(c->flashes);
    memset(c, 0, sizeof *c);
}
