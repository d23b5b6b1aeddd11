/* The two pictures of a run: the page that plays it and the still lanes. They
 * gather what the writers need, sound included. */
#ifndef TC_PICTURES_H
#define TC_PICTURES_H

#include <stdio.h>

#include "app/page_data.h"
#include "app/run.h"

/* Writes the page. `preview` holds the ramps already. TC_ERR_MEMORY,
 * TC_ERR_STOPPED. */
enum tc_status picture_preview(struct run *r, struct preview *preview, const struct columns *columns,
                               FILE *out);

/* Writes the job's plot as a file of its own. TC_ERR_EXISTS, TC_ERR_WRITE,
 * TC_ERR_MEMORY. */
enum tc_status picture_plot(struct run *r, const struct columns *columns);

#endif
