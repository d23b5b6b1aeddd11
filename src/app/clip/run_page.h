/* The page of a run: gathers what its writer needs, sound included. */
#ifndef TC_RUN_PAGE_H
#define TC_RUN_PAGE_H

#include <stdio.h>

#include "app/clip/preview.h"
#include "app/clip/run.h"

/* Writes the page. TC_ERR_MEMORY, TC_ERR_READ (of the sound). */
enum tc_status run_page_write(struct run *r, const struct page_ramps *ramps, const struct columns *columns, FILE *out);

#endif
