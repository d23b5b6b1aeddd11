/* A changed rig into the text of the rig file that it came from: what somebody
 * wrote there stays, comments, order, spelling and line ends, and only the
 * values that differ are changed. */
#ifndef TC_RIG_KEEP_H
#define TC_RIG_KEEP_H

#include <stdbool.h>

#include "thundercue.h"

/* Writes `text`, a rig file that gives no name goes by `shown`, with what it
 * takes to read back as `rig`:
 * - a value that differs is replaced in its line, and the comment there stays;
 *   a key that is new comes after the last one of its section;
 * - a section that is new comes after the last one of its kind; one that is
 *   gone takes its lines from the heading to its last key along; where one of a
 *   kind went and one came, that is a new name for it;
 * - what [defaults] say stays, and a channel that differs says so itself.
 * A text that is just as tc_rig_write writes it has nothing of anybody's own in
 * it, and is written so again.
 * What comes of it is read again before it is written. Where that is another
 * rig than `rig` (a key that [defaults] say can't be taken back in a channel),
 * *kept is false, and the rig is written anew as tc_rig_write does.
 *
 * TC_ERR_RIG with *why: the text is no rig file, or a rig file can't hold the
 * rig. TC_ERR_USAGE, as tc_rig_write. TC_ERR_MEMORY. Else what the sink says. */
enum tc_status rig_keep(const struct tc_rig *rig, const char *text, size_t size, const char *shown,
                        struct tc_sink to, bool *kept, struct tc_problem *why);

#endif
