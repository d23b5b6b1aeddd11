/* truth: where the cracks and rumbles of a storm are, told from the storm
 * itself before any weather is laid over it.
 *
 * Crack. Somebody setting lamps starts a flash at an abrupt rise. So the
 * power of the bare thunder is followed in octave bands, one value a
 * millisecond, and at each moment compared with what went before:
 *
 *            before 300 ms          after 60 ms
 *     |--------------------------|t|-----------|
 *              mean                 loudest 15 ms
 *
 * rise = the second greatest of the bands' rises in dB, or the greatest of
 * the bands above 600 Hz if that is less: at least two bands rise, one of them
 * above 600 Hz. A moment with the greatest rise within 100 ms around it is a
 * crack: of weight 3 from 12 dB on (unmistakable), 2 from 6 dB (clear), 1 from
 * 4 dB (doubtful). Attacks closer than 0.10 s are one. Its time is the first
 * arrival of the burst: the first millisecond that stands a third of the
 * rise (in dB) above what went before.
 *
 * Rumble. Below 600 Hz, averaged over 0.3 s: from the first moment to the
 * last at which a flash is within 30 dB of its loudest, gaps under 1 s
 * bridged, at least 0.5 s long. (People who label real thunder hear a roll
 * to its end, some 30 dB down, or 6 dB above the quiet around it.)
 *
 * Power that is known to lie underneath (the weather's, and a floor under
 * which nobody hears anything) is added before anything is compared, so that
 * a crack which the rain hides is no crack; a rumble stands 6 dB above it. */
#ifndef TRUTH_H
#define TRUTH_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { TRUTH_BANDS = 6, TRUTH_MEMORY = 1024 };

/* ---- Octave bands ------------------------------------------------------- */

/* Two-pole band-pass filters, twice in a row, around 125, 250, 500, 1000,
 * 2000 and 4000 Hz. A band that the rate is too low for stays at 0. */
struct truth_filter {
    double gain, back[2];
    double state[2][2];
};

struct truth_bands {
    struct truth_filter filter[TRUTH_BANDS];
};

struct truth_bands truth_bands_begin(double rate);

/* Adds the power of the next sample in each band. */
void truth_bands_step(struct truth_bands *b, double x, double power[TRUTH_BANDS]);

/* ---- Labels ------------------------------------------------------------- */

enum truth_kind { TRUTH_CRACK, TRUTH_RUMBLE };

/* A crack has end_s equal to start_s, a rumble has weight 0. */
struct truth_label {
    enum truth_kind kind;
    double start_s, end_s;
    int weight;
};

/* A list that grows. Zero is the empty list. */
struct truth_labels {
    struct truth_label *list;
    size_t count, room;
};

/* False, and the list as before, when memory is out. */
bool truth_labels_add(struct truth_labels *l, struct truth_label one);

/* By start, and rumbles that touch or overlap made one. */
void truth_labels_settle(struct truth_labels *l);

void truth_labels_clear(struct truth_labels *l);

/* ---- Cracks, from the whole storm as it goes by ------------------------- */

struct truth {
    struct truth_bands bands;
    double rate;
    double under[TRUTH_BANDS];              /* mean square that lies underneath */
    int64_t samples, frames;                /* so far; a frame is a millisecond */
    double sum[TRUTH_BANDS];                /* of the frame that is going on */
    int64_t in_frame;
    double total[TRUTH_MEMORY][TRUTH_BANDS]; /* running sums up to each frame */
    double rise[TRUTH_MEMORY];
};

/* `under` is the mean square in each band that lies underneath, above 0. */
struct truth truth_begin(double rate, const double under[TRUTH_BANDS]);

/* Takes the next sample of bare thunder; adds the cracks that have become
 * certain (about half a second later) to *to. False when memory is out. At
 * the end, push half a second of silence. */
bool truth_step(struct truth *t, double x, struct truth_labels *to);

/* ---- Rumbles, flash by flash -------------------------------------------- */

/* Adds the rumbles of one flash, whose sound begins at start_s of the
 * recording. `under` is the mean square below 600 Hz underneath. */
bool truth_rumbles(const double *sound, size_t count, double rate, double start_s,
                   double under, struct truth_labels *to);

/* The mean square below 600 Hz: of a band sum as truth_bands_step gives it. */
double truth_low(const double power[TRUTH_BANDS]);

#endif
