/* A finished show into its files: every light frame goes past all that write,
 * count and measure, once. */
#ifndef TC_RUN_WRITE_H
#define TC_RUN_WRITE_H

#include "app/clip/run.h"

/* Writes the outputs that the run's outcome has paths for, whole or not at
 * all, and fills in what the outcome tells of the light. TC_ERR_EXISTS,
 * TC_ERR_WRITE, TC_ERR_MEMORY, TC_ERR_STOPPED. */
enum tc_status run_write_files(struct run *r);

#endif
