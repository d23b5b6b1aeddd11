/* The recording's sound for the page, from the one pass that is listened to:
 * its own bytes where browsers play them in step, else encoded as it comes by.
 * What is long is left where it is, and the page refers to it. */
#ifndef TC_PAGE_SOUND_H
#define TC_PAGE_SOUND_H

#include <stdbool.h>
#include <stdio.h>

#include "io/sound/source.h"

struct page_sound;

/* Borrows the source until it is destroyed. TC_ERR_MEMORY, TC_ERR_WRITE. */
enum tc_status page_sound_create(struct page_sound **out, struct source *source);

/* The next samples of the pass: a tap of listen_source. TC_ERR_WRITE. */
enum tc_status page_sound_take(void *sound, const float *samples, size_t frames);

/* After the pass. TC_ERR_WRITE. */
enum tc_status page_sound_finish(struct page_sound *p);

/* From their start; NULL if the recording is too long to be put into a page. */
FILE *page_sound_bytes(struct page_sound *p);
const char *page_sound_type(const struct page_sound *p);
/* True if they are the recording's own. */
bool page_sound_is_own(const struct page_sound *p);

/* NULL is fine. */
void page_sound_destroy(struct page_sound *p);

#endif
