/* Tables from text: CSV by RFC 4180. (words/sink.h writes it.) */
#ifndef TC_CSV_H
#define TC_CSV_H

#include <stddef.h>
#include <stdio.h>

/* A reader of CSV by RFC 4180; also takes bare LF line ends, a UTF-8 byte
 * order mark, and blank lines (skipped). Cells are NUL-terminated and live
 * until the next row. */
struct csv;
enum csv_result { CSV_ROW, CSV_END, CSV_BAD_QUOTE, CSV_TOO_LONG, CSV_NUL, CSV_MEMORY, CSV_IO };

struct csv *csv_open(FILE *in); /* borrows `in`; NULL out of memory */
enum csv_result csv_next(struct csv *c);
size_t csv_count(const struct csv *c);             /* cells in this row */
const char *csv_get(const struct csv *c, size_t i); /* "" beyond the last */
long csv_line(const struct csv *c);                /* where this row starts, from 1 */
const char *csv_result_text(enum csv_result r);    /* what was wrong */
void csv_close(struct csv *c);

#endif
