/* Listens to a whole recording: a source, a listener, the stop between them,
 * and whoever else wants the same samples. */
#ifndef TC_LISTEN_FILE_H
#define TC_LISTEN_FILE_H

#include "io/sound/source.h"
#include "thundercue.h"

/* Takes every block that is listened to. What it returns besides TC_OK ends
 * the listening. */
struct listen_tap {
    enum tc_status (*take)(void *to, const float *samples, size_t frames);
    void *to;
};

/* Reads the source to its end, once. Remarks that the user should read
 * (truncated file, bad samples) come in *remark, empty if there are none.
 * `tap` and `remark` may be NULL. Draws progress on a terminal. TC_ERR_READ
 * with *why, TC_ERR_MEMORY, TC_ERR_STOPPED, and those of the tap. The caller
 * clears *out. */
enum tc_status listen_source(struct source *source, const struct tc_settings *s, const struct listen_tap *tap,
                             struct tc_analysis *out, struct tc_problem *remark, struct tc_problem *why);

/* The same for a file; "-" is standard input. */
enum tc_status listen_file(const char *path, const struct tc_settings *s, struct tc_analysis *out,
                           struct tc_problem *remark, struct tc_problem *why);

#endif
