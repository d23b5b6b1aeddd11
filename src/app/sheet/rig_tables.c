#include "app/sheet/rig_tables.h"

#include <string.h>

#include "app/report/text_width.h"
#include "words/text.h"

enum { NAME_COLUMNS = 28, COLUMNS_MOST = 16 };

/* The cell's text made plain and cut to NAME_COLUMNS columns of a terminal. */
static void plain_cell(char *to, size_t size, const struct column *column, const struct tc_rig *rig, size_t row)
{
    char raw[CELL_SIZE];
    column->fill(raw, rig, row);
    text_plain(to, size, raw);
    if (text_columns(to) <= NAME_COLUMNS) return;
    /* Shorten by whole characters until "..." fits. */
    size_t n = strlen(to);
    while (n && text_columns(to) > NAME_COLUMNS - 3) {
        do n--;
        while (n && ((unsigned char)to[n] & 0xC0) == 0x80);
        to[n] = 0;
    }
    memcpy(to + n, "...", 4);
}

/* Writes a row's cells one by one; blanks wait in `owed` until text follows, so
 * that no line ends in them. */
static void write_cell(FILE *out, const char *text, size_t width, bool right, size_t *owed)
{
    size_t columns = text_columns(text), pad = width > columns ? width - columns : 0;
    if (right) *owed += pad;
    if (*text) {
        fprintf(out, "%*s%s", (int)*owed, "", text);
        *owed = 0;
    }
    *owed += 2 + (right ? 0 : pad);
}

void table_write(FILE *out, const struct tc_rig *rig, enum sheet_table which, size_t rows, row_fn *wanted)
{
    const struct column *columns = sheet_table(which)->columns;
    size_t count = sheet_table(which)->count;
    char cell[CELL_SIZE];
    size_t width[COLUMNS_MOST] = { 0 }, owed = 2;
    for (size_t c = 0; c < count; c++) {
        for (size_t row = 0; row < rows; row++) {
            if (wanted && !wanted(rig, row)) continue;
            plain_cell(cell, sizeof cell, &columns[c], rig, row);
            size_t n = text_columns(cell);
            if (n > width[c]) width[c] = n;
        }
        if (width[c] && strlen(columns[c].head) > width[c]) width[c] = strlen(columns[c].head);
    }
    for (size_t c = 0; c < count; c++)
        if (width[c]) write_cell(out, columns[c].head, width[c], columns[c].right, &owed);
    putc('\n', out);
    for (size_t row = 0; row < rows; row++) {
        if (wanted && !wanted(rig, row)) continue;
        owed = 2;
        for (size_t c = 0; c < count; c++) {
            if (!width[c]) continue;
            plain_cell(cell, sizeof cell, &columns[c], rig, row);
            write_cell(out, cell, width[c], columns[c].right, &owed);
        }
        putc('\n', out);
    }
}

