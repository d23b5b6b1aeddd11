/* STEM.preview.html: one self-contained page that plays the timeline. The page
 * itself lives in src/page/ and comes in as a table of lines; this module puts
 * the data in, and the sound. */
#ifndef TC_PREVIEW_H
#define TC_PREVIEW_H

#include <stdio.h>

#include "page/data.h"

/* Writes the page. `ramps`: as they were written. `sound`: what is taken into it, or NULL. Write errors of
 * `out` stay with the stream. TC_ERR_MEMORY; TC_ERR_READ if `sound` can't be
 * read. */
enum tc_status preview_write(const struct page_ramps *ramps, FILE *out, const struct page_facts *facts, FILE *sound);

/* A reference from a page in `folder` to the file `path`, relative, with all
 * but plain letters escaped (RFC 3986). The caller frees it; NULL if there is
 * no such file or no memory. */
char *preview_link(const char *folder, const char *path);
/* The same for a file of this name in the page's folder, there or not yet. */
char *preview_link_beside(const char *name);

#endif
