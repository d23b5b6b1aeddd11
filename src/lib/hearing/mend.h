/* Samples as they come from strangers. */
#ifndef TC_MEND_H
#define TC_MEND_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Turns NaN, infinities and what is 120 dB over full scale into silence; returns
 * how many there were. */
int64_t mend_samples(float *samples, size_t count);

/* A lone sample, 30 times as great as each of the 8 to both sides of it, is a
 * click or a broken file and no sound: it counts as silence. (Amid digital silence
 * it is one only if it is far over full scale.) Whoever takes them out sees each
 * sample 8 later. */
enum { MEND_REACH = 8, MEND_BLOCK = 512 };

struct mender {
    float before[MEND_REACH], held[MEND_REACH];
    size_t waiting;             /* samples in `held` */
};

/* Takes count samples, at most MEND_BLOCK, and puts those that are done in their
 * place; returns how many. */
size_t mender_step(struct mender *m, float *samples, size_t count);

/* What goes on after the last sample taken: the same, unless it stands alone. */
float mender_last(const struct mender *m);

#endif
