/* Tables of a rig sheet (rig_columns.h) lined up for people. */
#ifndef TC_RIG_TABLES_H
#define TC_RIG_TABLES_H

#include <stdio.h>

#include "app/sheet/rig_columns.h"

typedef bool row_fn(const struct tc_rig *rig, size_t row);

/* Writes the rows that are wanted (NULL = all of `rows`), lined up on a
 * terminal; long cells are cut. Columns that are empty in all are left out. */
void table_write(FILE *out, const struct tc_rig *rig, enum sheet_table which, size_t rows, row_fn *wanted);

#endif
