/* Output files that appear whole or not at all.
 *
 * Everything is written to a hidden file in the same folder, flushed to disk,
 * checked, and only then given its name. Without `force` an existing file is
 * refused, at opening and once more when it is named (two runs at once can't
 * overwrite each other). Devices and pipes are written to directly; a pipe
 * without a reader is refused. */
#ifndef TC_OUTFILE_H
#define TC_OUTFILE_H

#include <stdbool.h>
#include <stdio.h>

#include "thundercue.h"

struct outfile;

/* TC_ERR_EXISTS, TC_ERR_WRITE (*why names the file and the reason), TC_ERR_MEMORY. */
enum tc_status outfile_open(struct outfile **out, const char *path, bool force,
                            struct tc_problem *why);

/* Where to write; NULL once sealed. Errors are remembered until the commit. */
FILE *outfile_stream(struct outfile *o);

/* Its name to be, and the hidden file that it still is (NULL for a device). */
const char *outfile_path(const struct outfile *o);
const char *outfile_aside(const struct outfile *o);

/* Flushes to disk, checks and closes: nothing can be written any more, and all
 * that can go wrong before the naming has gone wrong. A caller with several files
 * should seal them all before committing the first, so that a full disk leaves none.
 * TC_ERR_WRITE; abandon or commit (which fails too) the file then. */
enum tc_status outfile_seal(struct outfile *o, struct tc_problem *why);

/* Seals the file if need be, gives it its name, and frees `o` in any case. On
 * failure nothing is left behind. TC_ERR_EXISTS, TC_ERR_WRITE. */
enum tc_status outfile_commit(struct outfile *o, struct tc_problem *why);

/* Throws away what was written and frees `o`; NULL is fine. */
void outfile_abandon(struct outfile *o);

/* Removes the hidden files that killed runs have left in a folder, and returns
 * how many. Those of living processes stay: each holds a lock on its files. */
size_t outfile_sweep(const char *folder);

#endif
