/* The tables of a rig sheet: an inner part of `rig_sheet`. A table is a list of
 * columns over the channels, circuits or banks of a rig; the same columns make
 * tables for people and CSV. */
#ifndef TC_RIG_TABLES_H
#define TC_RIG_TABLES_H

#include <stdio.h>

#include "words/model.h"

/* One column: its head, and the text of its cell in a row, as it is in the rig
 * (not yet made plain). Rows are indices into the rig's array. */
struct column {
    const char *head;
    bool right;
    void (*fill)(char *to, const struct tc_rig *rig, size_t row); /* room for TC_NAME_SIZE */
};

struct table {
    const struct column *columns;
    size_t count;
};

enum sheet_table { TABLE_HOOKUP, TABLE_CIRCUITS, TABLE_OUTPUTS, TABLE_BANKS, TABLE_CORDS, TABLE_CSV, TABLE_COUNT };

const struct table *sheet_table(enum sheet_table which);

typedef bool row_fn(const struct tc_rig *rig, size_t row);

/* Writes the rows that are wanted (NULL = all of `rows`), lined up on a
 * terminal; long cells are cut. Columns that are empty in all are left out. */
void table_write(FILE *out, const struct tc_rig *rig, enum sheet_table which, size_t rows, row_fn *wanted);

#endif
