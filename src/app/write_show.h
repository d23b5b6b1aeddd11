/* A finished show into its files: every light frame goes past all that write,
 * count and measure, once. */
#ifndef TC_WRITE_SHOW_H
#define TC_WRITE_SHOW_H

#include "app/run.h"

/* Writes the outputs that the run's outcome has paths for, whole or not at
 * all, and fills in what the outcome tells of the light. TC_ERR_EXISTS,
 * TC_ERR_WRITE, TC_ERR_MEMORY, TC_ERR_STOPPED. */
enum tc_status show_write(struct run *r);

#endif
