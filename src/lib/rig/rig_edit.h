/* Changes one value in the text of a rig file and leaves every other byte as it
 * is: comments, order, line ends. */
#ifndef TC_RIG_EDIT_H
#define TC_RIG_EDIT_H

#include "words/model.h"

/* Writes the text with `min_level = percent` in its section [channel number]:
 * in the line that says so, its comment kept, else in a new line below the
 * heading. TC_ERR_RIG if there is no such section; what the sink says. */
enum tc_status rig_edit_min_level(const char *text, size_t size, int number, double percent,
                                  const struct tc_sink *to);

#endif
