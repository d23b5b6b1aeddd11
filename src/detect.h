/* Finds cracks and rumbles in what the ear hears.
 *
 * What a person marks as a crack, looking at a spectrogram, is a step: within
 * some 60 ms many bands get louder than they just were, and stay so for longer
 * than a click does. The detector measures that step, in five moves:
 *
 * 1. Levels in dB, not power: a step counts by its height over what was there,
 *    so that bands far under the loudest one have their say (the energy of a
 *    distant clap lies below 500 Hz, its edge shows best around 2 kHz).
 * 2. Despiked: a band may stand at most 8 dB above its opening in time over
 *    30 ms (the highest level that it holds for 30 ms around the moment).
 *    Clicks, even smeared over the analysis window, are shorter than that.
 * 3. A floor 50 dB under the loud level of the surroundings: what lies deeper
 *    nobody sees or hears. The loud level looks 3 s ahead and forgets what is
 *    past by 2 dB a second.
 * 4. The step itself: each band's mean level of the 65 ms from the moment on,
 *    less its mean level of the 60 ms before it, counted from 0 to 15 dB; the
 *    mean over all bands. Bands that a low sample rate has not got count as
 *    unmoved.
 * 5. The score: the step, less 0.7 times the mean step of the half second to
 *    each side, so that restless surroundings ask for more; less 0.05 for each
 *    dB that the moment lies under the loud level, so that what is soft must be
 *    clearer. A moment whose score is the greatest within 100 ms to each side is
 *    a candidate.
 *
 *         before         after           (one step = 5 ms)
 *      |----------|-------------|
 *     -12        -1 0          12
 *   ----------------+--------------------------------------------> time
 *                 step k
 *      |<-- mean step: k - 100 .. k + 100 -->|
 *      |<-- loud level: up to k + 600 ------------------ ... ---->|
 *
 * It looks ahead 600 (loud level) + 10 (its smoothing) + 100 (mean) + 20
 * (greatest) steps: 3.65 s, and holds 1024 steps. The moment of a crack is
 * where 0.4 of the rise is done, found between steps; people put it there.
 *
 * Each candidate carries the lowest sensitivity at which it counts, so that
 * choosing events for a sensitivity is a comparison, a higher sensitivity never
 * finds less, and a sweep needs one analysis only. The score at which a
 * candidate counts halves with every 30 points of sensitivity.
 *
 * Where the numbers come from: they are middles of plateaus, found on labelled
 * recordings with each left out in turn; see DEVELOPERS.md for what each does
 * and which ideas did not help.
 *
 * A rumble is where the level below 600 Hz, over 0.3 s, stands above the quiet
 * background (5th percentile within a minute) and not 40 dB under the loudest
 * moment within a minute. */
#ifndef TC_DETECT_H
#define TC_DETECT_H

#include "model.h"

struct detector;

/* TC_ERR_MEMORY. */
enum tc_status detector_create(struct detector **out);

/* The next step, in order from 0. TC_ERR_MEMORY (only its results grow). */
enum tc_status detector_step(struct detector *d, const struct hearing *h);

/* After the last step: moves candidates and rumbles (as events) into *out,
 * both by start. TC_ERR_MEMORY. */
enum tc_status detector_finish(struct detector *d, int64_t length_ms, struct tc_analysis *out);

/* NULL is fine. */
void detector_destroy(struct detector *d);

#endif
