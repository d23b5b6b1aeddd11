/* How loud stereo sound is, by ITU-R BS.1770: the only place that knows
 * libebur128. */
#ifndef TC_LOUDNESS_H
#define TC_LOUDNESS_H

#include <stdbool.h>

#include "thundercue.h"

struct loudness;

/* `peak`: measure the true peak too, which takes longer. TC_ERR_MEMORY. */
enum tc_status loudness_create(struct loudness **out, int rate, bool peak);
enum tc_status loudness_push(struct loudness *l, const float *stereo, size_t frames);

/* Integrated loudness in LUFS; -HUGE_VAL where all is under the gate (-70). */
double loudness_lufs(struct loudness *l);
/* The true peak so far in dB, full scale = 0; -HUGE_VAL for silence. */
double loudness_peak_db(struct loudness *l);

/* NULL is fine. */
void loudness_destroy(struct loudness *l);

#endif
