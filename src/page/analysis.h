/* An analysis as bytes (but for its overview and events), as the page's data
 * carries it for cueing anew; and its overview back from what the page shows of it. */
#ifndef TC_PAGE_ANALYSIS_H
#define TC_PAGE_ANALYSIS_H

#include "thundercue.h"

size_t page_analysis_size(const struct tc_analysis *a);
/* There is room for so many bytes. */
void page_analysis_pack(const struct tc_analysis *a, unsigned char *to);
/* TC_ERR_FORM, TC_ERR_MEMORY; then *out is empty. */
enum tc_status page_analysis_unpack(struct tc_analysis *out, const unsigned char *from, size_t size);

/* Takes the overview of an analysis from bytes: columns, steps in each, bands (4 bytes each), a peak for each column, a
 * level for each column and band. TC_ERR_FORM, TC_ERR_MEMORY; then *a is as it was. */
enum tc_status page_overview_unpack(struct tc_analysis *a, const unsigned char *from, size_t size);

#endif
