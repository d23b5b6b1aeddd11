/* Tables from text: CSV by RFC 4180, and what spreadsheets of all countries make
 * of it. (words/sink.h writes it, strictly.)
 *
 * Cells are separated by commas, semicolons or tabs: by the first of them in the
 * header row, or as a line `sep=;` before it says. Lines end with CR LF, LF or
 * CR. A byte order mark is skipped, and so are rows without anything in them.
 * Numbers may have a decimal comma; between commas such a cell is quoted. */
#ifndef TC_CSV_H
#define TC_CSV_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* A text that is in memory as a whole, or one that is too long for that and is
 * read piece by piece, in order. */
struct csv_text {
    const char *bytes;       /* the whole; else NULL, and */
    size_t (*read)(void *user, int64_t at, char *to, size_t room); /* fills `to` from there; less
                                                                      than `room` only at the end */
    void *user;
    int64_t size;
};

struct csv;
enum csv_result { CSV_ROW, CSV_END, CSV_BAD_QUOTE, CSV_TOO_LONG, CSV_NUL, CSV_MEMORY };

struct csv *csv_open(const char *text, size_t size); /* borrows the text; NULL out of memory */
struct csv *csv_open_text(const struct csv_text *text);  /* the same; of one in pieces, holds 4 MB at most */

/* The next row. Cells live until the one after it. */
enum csv_result csv_next(struct csv *c);
size_t csv_count(const struct csv *c);              /* cells in this row */
const char *csv_get(const struct csv *c, size_t i); /* "" beyond the last */
/* The same without the space around it. */
const char *csv_word(struct csv *c, size_t i);
/* A cell as a number; false if it is none. */
bool csv_number(struct csv *c, size_t i, double *out);
long csv_line(const struct csv *c);                 /* where this row starts, from 1 */
double csv_share(const struct csv *c);              /* how much of the text has been read, 0..1 */
const char *csv_result_text(enum csv_result r);     /* what was wrong */
void csv_close(struct csv *c);

/* A cell that a spreadsheet would run as a formula: it starts with = + - @ tab
 * CR. Where names are written, an apostrophe before it guards it. */
bool csv_is_formula(const char *cell);
/* The cell without such an apostrophe. */
const char *csv_unguarded(const char *cell);

#endif
