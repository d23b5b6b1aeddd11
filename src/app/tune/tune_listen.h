/* Listens to a recording to see what every sensitivity finds in it. */
#ifndef TC_TUNE_LISTEN_H
#define TC_TUNE_LISTEN_H

#include "marks/sweep.h"
#include "app/tune/tune_labels.h"

/* Listens to a recording and fills *out (from sweep_empty) with what a part of it
 * has. `labels_path` NULL: NAME.labels.csv beside NAME.wav is used if it is
 * there. Remarks on both come in *notes. TC_ERR_READ, TC_ERR_FORM,
 * TC_ERR_MEMORY, and TC_ERR_USAGE where the part is after its end, with *why. */
enum tc_status tune_listen(const char *recording, const char *labels_path, const struct tc_settings *s,
                           struct part part, struct sweep *out, struct label_notes *notes,
                           struct tc_problem *why);
/* What is heard in a part of it, as an analysis. The caller clears *out. The same statuses. */
enum tc_status tune_hear(const char *recording, const struct tc_settings *s, struct part part,
                         struct tc_analysis *out, struct tc_problem *remark, struct tc_problem *why);

#endif
