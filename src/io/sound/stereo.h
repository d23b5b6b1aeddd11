/* Sound of any number of channels and any sample rate as stereo of one rate. */
#ifndef TC_STEREO_H
#define TC_STEREO_H

#include <stddef.h>

#include "thundercue.h"

/* Takes what comes out, and may change it in place. What it returns besides
 * TC_OK ends the work and is handed on. */
typedef enum tc_status stereo_take(void *to, float *pair, size_t frames);

struct stereo;

/* One channel goes to both sides; of more, every other one is mixed to each. TC_ERR_MEMORY. */
enum tc_status stereo_create(struct stereo **out, int channels, double rate_in, double rate_out, stereo_take *take,
                             void *to);
enum tc_status stereo_push(struct stereo *s, const float *samples, size_t frames);
/* What the converter still holds. Nothing can be pushed afterwards. */
enum tc_status stereo_finish(struct stereo *s);

/* NULL is fine. */
void stereo_destroy(struct stereo *s);

#endif
