/* Listens to a whole sound file: a source, a listener, and the stop between them. */
#ifndef TC_LISTEN_FILE_H
#define TC_LISTEN_FILE_H

#include "thundercue.h"

/* "-" is standard input. Remarks that the user should read (truncated file, bad
 * samples) come in *remark, empty if there are none. Draws progress on a
 * terminal. TC_ERR_READ with *why, TC_ERR_MEMORY, TC_ERR_STOPPED. The caller
 * clears *out. */
enum tc_status listen_file(const char *path, const struct tc_settings *s, struct tc_analysis *out,
                           struct tc_problem *remark, struct tc_problem *why);

#endif
