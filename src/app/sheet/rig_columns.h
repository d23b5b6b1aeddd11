/* What the tables of a rig sheet show: columns over the channels, circuits or
 * banks of a rig; the same columns make tables for people and CSV. */
#ifndef TC_RIG_COLUMNS_H
#define TC_RIG_COLUMNS_H

#include "words/model.h"

enum { CELL_SIZE = TC_NAME_SIZE };

/* One column: its head, and the text of its cell in a row, as it is in the rig
 * (not yet made plain). Rows are indices into the rig's array. */
struct column {
    const char *head;
    bool right;
    void (*fill)(char *to, const struct tc_rig *rig, size_t row); /* room for CELL_SIZE */
};

struct table {
    const struct column *columns;
    size_t count;
};

enum sheet_table { TABLE_HOOKUP, TABLE_CIRCUITS, TABLE_OUTPUTS, TABLE_BANKS, TABLE_CORDS, TABLE_CSV, TABLE_COUNT };

const struct table *sheet_table(enum sheet_table which);

#endif
