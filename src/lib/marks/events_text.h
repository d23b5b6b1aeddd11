/* Event files: what a listener heard or a person labelled.
 *
 *     kind,start_s,end_s,peak_s,strength,sharpness,level_dbfs   as written
 *     kind,start_s,end_s,weight                                  as labelled
 *
 * Columns are found by their names in the header row; only kind and start_s
 * must be there, unknown ones are passed over. Hand control: `strokes` forces
 * the number of strokes of a crack, `path` or `channels` (numbers divided by
 * spaces) forces what is lit. */
#ifndef TC_LABELS_H
#define TC_LABELS_H

#include "words/model.h"

/* Reads and sorts by start. The caller frees *out. TC_ERR_FORM with file, line
 * and what would be right; TC_ERR_MEMORY. */
enum tc_status labels_read(const char *path, struct label **out, size_t *count,
                           struct tc_problem *why);

#endif
