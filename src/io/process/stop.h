/* The flag that Ctrl-C raises, which long work asks now and then. */
#ifndef TC_STOP_H
#define TC_STOP_H

#include <stdbool.h>

#include "thundercue.h"

/* Catches SIGINT, SIGTERM and SIGHUP: the first asks the work to stop, the
 * second ends the program at once. A closed pipe and a file that grows beyond
 * its limit are errors of the write like any other, not the end. */
void stop_watch(void);
/* The same in a process that another waits for: asked twice, it still ends
 * tidily; the other ends it where that takes too long. */
void stop_watch_patiently(void);

bool stop_asked(void);

/* The same as the watch of a long call of the library. */
const struct tc_watch *stop_of_calls(void);

/* The signal that asked; 0 if none did. */
int stop_signal(void);

#endif
