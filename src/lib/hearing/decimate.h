/* Halves a sample rate, keeping what lies below nine tenths of the new Nyquist
 * frequency, and keeps time: output sample m is centred on input sample 2 m.
 *
 * A half-band FIR filter: every second coefficient is zero, the others come
 * in equal pairs, so an output costs TAPS multiplications. Windowed sinc with
 * a Kaiser window (Oppenheim & Schafer, Discrete-Time Signal Processing, ch.
 * 7): beta 6 for more than 60 dB. Streams: it needs 2 TAPS - 1 input samples
 * after the centre, that is its delay. */
#ifndef TC_DECIMATE_H
#define TC_DECIMATE_H

#include <stdbool.h>
#include <stddef.h>

enum { DECIMATE_TAPS = 10, DECIMATE_BLOCK = 512 };

struct decimator {
    float coefficient[DECIMATE_TAPS];
    /* even and odd input samples not used up yet, oldest first */
    float even[DECIMATE_BLOCK + 2 * DECIMATE_TAPS], odd[DECIMATE_BLOCK + 2 * DECIMATE_TAPS];
    size_t evens, odds;
    bool next_is_odd;
};

void decimator_start(struct decimator *d);

/* Takes `count` samples, at most 2 * DECIMATE_BLOCK, and writes up to
 * count / 2 + 1 outputs; returns how many. */
size_t decimator_step(struct decimator *d, const float *in, size_t count, float *out);

#endif
