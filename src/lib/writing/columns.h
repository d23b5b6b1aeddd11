/* A whole timeline in a fixed number of columns, however long it is: the
 * greatest level of every channel and the fastest flashing within each. For
 * the preview. */
#ifndef TC_COLUMNS_H
#define TC_COLUMNS_H

#include "words/model.h"

/* Of many channels there are fewer columns, so that a page of any rig stays small. */
enum { COLUMN_CELLS_MOST = 1150 * 1024 };

/* For `frames` light frames. TC_ERR_MEMORY. Free with columns_clear. */
enum tc_status columns_create(struct columns *out, size_t channels, uint32_t frames);

/* The next light frame: levels in rig order, flashes in the second before. */
void columns_step(struct columns *c, const uint16_t *levels, int flashes);

void columns_clear(struct columns *c);

#endif
