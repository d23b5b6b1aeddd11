/* STEM.preview.html: one self-contained page that plays the timeline. The page
 * itself lives in src/page/ and comes in as a table of lines; this module puts
 * the data in. Collects the ramps while they are written, so that the page
 * shows the very same; holds a few MB at most, whatever the length. */
#ifndef TC_PREVIEW_H
#define TC_PREVIEW_H

#include <stdio.h>

#include "page/data.h"

struct preview;

/* TC_ERR_MEMORY. */
enum tc_status preview_create(struct preview **out, size_t channels);

/* The next ramp, in the order of ramps.csv. Ramps beyond what a page can hold
 * are let go; the page then shows light in columns. TC_ERR_MEMORY. */
enum tc_status preview_ramp(void *preview, const struct ramp *ramp);

/* Writes the page. `sound`: what is taken into it, or NULL. Write errors of
 * `out` stay with the stream. TC_ERR_MEMORY; TC_ERR_READ if `sound` can't be
 * read. */
enum tc_status preview_write(struct preview *p, FILE *out, const struct page_facts *facts, FILE *sound);

void preview_destroy(struct preview *p);

/* A reference from a page in `folder` to the file `path`, relative, with all
 * but plain letters escaped (RFC 3986). The caller frees it; NULL if there is
 * no such file or no memory. */
char *preview_link(const char *folder, const char *path);
/* The same for a file of this name in the page's folder, there or not yet. */
char *preview_link_beside(const char *name);

#endif
