/* One line of progress on standard error, on a terminal only. */
#ifndef TC_PROGRESS_H
#define TC_PROGRESS_H

#include <stdbool.h>

/* Draws "text" over the last line if standard error is a terminal and a
 * quarter of a second has passed since the last. */
void progress_show(const char *text);
/* Wipes the line. */
void progress_clear(void);
/* This thread shows nothing until it is switched off again: several clips at
 * once have one line for all. */
void progress_silence(bool on);

#endif
