/* Hears and measures one recording of an evening, in a process of its own: what
 * crashes in a decoder, or takes all memory, costs that recording alone. */
#ifndef TC_NIGHT_LISTEN_H
#define TC_NIGHT_LISTEN_H

#include <stdatomic.h>

#include "app/night/night_job.h"

/* Opens it for its sample rate. Fills in status and note, or rate. */
void night_look(struct night_recording *r, atomic_int *children);

/* Hears it with these settings, and measures it as stereo at this rate. Fills
 * in status and note and, where all is well, what was heard, and the same as
 * bytes (app/night/night_pack.h), which the caller frees. */
void night_listen(struct night_recording *r, const struct tc_settings *s, int rate, atomic_int *children, char **bytes,
                  size_t *size);

#endif
