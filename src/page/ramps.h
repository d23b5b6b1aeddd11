/* The ramps that a page carries: collected while they are written, so that the
 * page shows the very same, and packed; a few MB at most, whatever the length. */
#ifndef TC_PAGE_RAMPS_H
#define TC_PAGE_RAMPS_H

#include "page/json.h"
#include "words/model.h"

struct page_ramps;

/* TC_ERR_MEMORY. */
enum tc_status page_ramps_create(struct page_ramps **out, size_t channels);
/* The next ramp, in the order of ramps.csv. Ramps beyond what a page can hold
 * are let go; the page then shows light in columns. `ramps`: a struct page_ramps
 * (so that showing_run can call it). TC_ERR_MEMORY. */
enum tc_status page_ramps_add(void *ramps, const struct ramp *ramp);
/* Their packed bytes; 0 once ramps have been let go. */
size_t page_ramps_size(const struct page_ramps *p);
/* False once ramps have been let go. */
bool page_ramps_kept(const struct page_ramps *p);
/* The entry of the page's data, with the ramps or only with their count; `full` is the level of 100 percent. */
void page_ramps_put(struct json *j, const struct page_ramps *p, uint16_t full, bool with_ramps);
void page_ramps_destroy(struct page_ramps *p);

#endif
