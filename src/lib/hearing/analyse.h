/* The ear's front end: samples to band powers, one `struct hearing` every 5 ms.
 *
 * Windows are set in milliseconds, so that every sample rate hears the same.
 * Step k is centred on k * 5 ms:
 *
 *      |<------ 23.2 ms Hann window ------>|
 *   ---+-----------------+-----------------+------> time
 *                      k * 5 ms
 *
 * so it needs the samples up to 11.6 ms later, and 5 ms more for one channel,
 * two steps of which share one complex transform (kissfft), and 8 samples to
 * know a lone one (mend.h): that is its delay.
 * Before the start lies what the recording begins with, after the end what it
 * ends with, so that a constant offset (DC) has no edge; the offset itself is
 * taken out of every window. Sample rates of 44.1 kHz and more
 * are halved until just above 22 kHz first: thunder has nothing to say higher
 * up, and the transform is what listening costs. Of several channels two share
 * one transform (real and imaginary part) and their powers are added, so a pair
 * in opposite phase does not cancel. */
#ifndef TC_ANALYSE_H
#define TC_ANALYSE_H

#include "words/model.h"

struct analyser;

/* rate in Hz (1000..768000), channels 1..64. TC_ERR_USAGE, TC_ERR_MEMORY. */
enum tc_status analyser_create(struct analyser **out, double rate, int channels);

/* Takes samples from *in (advancing it) until one step is ready. True with
 * *out filled, or false when *in is used up. Never allocates. */
bool analyser_step(struct analyser *a, struct span *in, struct hearing *out);

/* After the last sample: the remaining steps one by one, then false. */
bool analyser_flush(struct analyser *a, struct hearing *out);

/* Sample frames taken so far. */
int64_t analyser_taken(const struct analyser *a);

/* Samples among them that were NaN or infinite and count as silence. */
int64_t analyser_bad_samples(const struct analyser *a);

void analyser_destroy(struct analyser *a);

#endif
