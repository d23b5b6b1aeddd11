/* The man page and the shell's completion, made from the tables of commands,
 * options and settings, so that they can't differ from --help. */
#ifndef TC_MANUAL_H
#define TC_MANUAL_H

#include "app/commands/cli.h"

/* Both print on standard output and take the table of main.c. */
void manual_man(const struct command *const *commands, size_t count);
void manual_completion(const struct command *const *commands, size_t count);

#endif
