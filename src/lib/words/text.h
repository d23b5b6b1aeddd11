/* Text in and out, the same in every country: numbers with '.' whatever the
 * locale (the program never calls setlocale), CSV by RFC 4180. */
#ifndef TC_TEXT_H
#define TC_TEXT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

/* ---- Numbers ---- */

/* `value` / 10^decimals as text, e.g. 1234567 with 3 decimals "1234.567".
 * Writes to `to` (room for 24) without a final NUL and returns the end. Much
 * faster than printf; frames.csv is made of these. */
char *text_fixed(char *to, int64_t value, int decimals);

/* Reads a whole cell as a decimal number ("12", "-3.5", "1e3"; no hex, no
 * inf, no spaces). False if it is anything else. */
bool text_number(const char *cell, double *out);
/* The same for a whole number within int64. */
bool text_whole(const char *cell, int64_t *out);

/* ---- CSV out ---- */

/* A cell, quoted where RFC 4180 asks for it. `guard`: a cell that a
 * spreadsheet would run as a formula (starts with = + - @ tab CR) gets a
 * leading apostrophe. */
void csv_cell(FILE *out, const char *cell, bool guard);

/* ---- CSV in ---- */

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

/* ---- For people ---- */

/* Copies text with control characters and broken UTF-8 shown as '?', cut with
 * "..." to `size`, so that a hostile name can't disturb a terminal. */
const char *text_plain(char *to, size_t size, const char *from);

/* True if two words are the same but for ASCII case. */
bool text_same(const char *a, const char *b);

/* True if the text is well-formed UTF-8. */
bool text_utf8(const char *s);

/* Columns that well-formed UTF-8 takes on a terminal: combining marks take
 * none, East Asian wide characters and pictures two. Near enough for tables;
 * the full answer depends on the terminal. */
size_t text_columns(const char *s);

/* Number of single edits (a letter more, less or other) between two words of
 * up to 32 letters; 32 if one is longer. For "did you mean". */
size_t text_distance(const char *a, const char *b);

#endif
