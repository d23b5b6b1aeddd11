/* The page of a run: gathers what its writer needs, sound included. */
#ifndef TC_PICTURES_H
#define TC_PICTURES_H

#include <stdio.h>

#include "app/page_data.h"
#include "app/run.h"

/* Writes the page. `preview` holds the ramps already. TC_ERR_MEMORY,
 * TC_ERR_STOPPED. */
enum tc_status picture_preview(struct run *r, struct preview *preview, const struct columns *columns,
                               FILE *out);

#endif
