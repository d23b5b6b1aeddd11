/* How wide text is on a terminal, for tables that line up. */
#ifndef TC_TEXT_WIDTH_H
#define TC_TEXT_WIDTH_H

#include <stddef.h>

/* Columns that UTF-8 takes: combining marks take none, East Asian wide
 * characters and most pictures two. Near enough for tables; the full answer
 * depends on the terminal. A byte that is no UTF-8 takes one. */
size_t text_columns(const char *s);

#endif
