/* A recording as one of those that sound together: stereo at the rate of the
 * whole, a piece at a time. */
#ifndef TC_VOICE_H
#define TC_VOICE_H

#include "io/sound/source.h"

struct voice;

/* Takes the source over, also where it fails. TC_ERR_MEMORY. */
enum tc_status voice_open(struct voice **out, struct source *source, int rate);

/* The next `frames` stereo frames, fewer only at the end. What the converter
 * returns besides TC_OK is handed on. */
enum tc_status voice_read(struct voice *v, float *pair, size_t frames, size_t *got);

/* NULL is fine. */
void voice_close(struct voice *v);

#endif
