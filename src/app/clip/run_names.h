/* The names of a run's outputs, and what speaks against them before any work
 * is done. */
#ifndef TC_RUN_NAMES_H
#define TC_RUN_NAMES_H

#include "app/clip/run.h"

/* Makes the output folder and fills in the outcome's stem and paths. An events
 * file that the run cues from gets no path: it stays as its editor left it.
 * TC_ERR_EXISTS without --force, TC_ERR_WRITE (an input would be overwritten,
 * no folder), TC_ERR_MEMORY. */
enum tc_status run_name_files(struct run *r);

/* Without a page: remarks on one of an earlier run, which no longer shows what is beside it. */
void run_remark_older_page(struct run *r);

/* Whether a further file of the run may be written beside them. The same errors. */
enum tc_status run_check_more(struct run *r, const char *path);

/* Where an output (RUN_*) of a stem lies. The caller frees it; NULL out of memory. */
char *run_file_path(const char *folder, const char *stem, int which);

#endif
