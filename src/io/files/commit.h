/* The files of one run, which get their names together: nobody finds files of
 * two runs side by side, and no edit is overwritten (io/files/ledger.h). */
#ifndef TC_COMMIT_H
#define TC_COMMIT_H

#include <stddef.h>

#include "io/files/ledger.h"
#include "io/files/outfile.h"

/* Seals all files (NULL ones are passed over), so that a full disk leaves none
 * of them, looks again whether each may be replaced, and names them while
 * others are kept out of the folder that they lie in. Frees those that were
 * named; the others are for the caller to abandon. */
enum tc_status commit_together(struct outfile **files, size_t count, const char *folder, enum ledger_over over,
                             struct tc_problem *why);

#endif
