/* One line that is drawn over and over, and single keys. The line is written
 * without ever waiting: a terminal that stands still (Ctrl-S, a slow network)
 * must not hold up light. */
#ifndef TC_TERMINAL_H
#define TC_TERMINAL_H

#include <stdbool.h>

struct terminal;

/* `keys`: read standard input key by key, if it is a terminal. NULL out of memory. */
struct terminal *terminal_open(bool keys);
bool terminal_shows(const struct terminal *t);  /* standard error is a terminal */
bool terminal_has_keys(const struct terminal *t);
/* Draws over the last line; nothing where there is no terminal. */
void terminal_line(struct terminal *t, const char *text);
/* The next key that was pressed, 0 if none was. Never waits. */
int terminal_key(struct terminal *t);
/* Gives the keyboard back if it was taken, in a signal handler or in a process
 * that was forked meanwhile; not where a shell has the terminal by now. */
void terminal_rescue(void);
/* Wipes the line and gives the keyboard back; NULL is fine. */
void terminal_close(struct terminal *t);

#endif
