/* What --force does not overwrite: a file of another kind than the one to be
 * written is most likely there by a slip of the keyboard. */
#ifndef TC_KEEPSAKE_H
#define TC_KEEPSAKE_H

#include <stdbool.h>

#include "thundercue.h"

/* TC_ERR_EXISTS with *why if the file is there and is a recording (by its first
 * bytes), a rig (unless `rig` is to be written), a table of events or light frames, or
 * the note of what thundercue wrote. */
enum tc_status keepsake_refuse(const char *path, bool rig, struct tc_problem *why);

#endif
