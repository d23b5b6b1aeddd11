/* The command line that makes a page again, for a shell: said in the page, by
 * the program that writes it and by the page's own core. */
#ifndef TC_PAGE_COMMAND_H
#define TC_PAGE_COMMAND_H

#include "thundercue.h"

/* "thundercue", the words (ended by NULL, each quoted where a shell needs it),
 * the rig (NULL = the built-in one), and the settings that differ from their
 * defaults. Errors are the sink's. */
enum tc_status page_command_write(struct tc_sink to, const char *const *words, const char *rig, const struct tc_settings *s);

#endif
