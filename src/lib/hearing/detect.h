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
 * Where the numbers come from: each is the middle of a plateau, found on six
 * labelled recordings (59 cracks that must be found), the same under 33 kinds of
 * added noise, joined and clipped. With windows, floor, depth and threshold
 * chosen on five and tried on the sixth, F at 50 ms is 0.98 over all six. What
 * each move did for F, threshold chosen on the other five:
 *
 *   rise against the mean of 80 ms before, floor 30 dB    0.83
 *   step of 65 ms against 50 ms; floor 40 / 50 / 60 dB    0.91 / 0.97 / 0.94
 *   less the local mean                                   0.98, and wider
 *   despiked                                              same; clicks 93 -> 38 false alarms
 *   less the depth; 60 ms before up to the moment         0.98; under noise 0.93 -> 0.96
 *
 * Tried without gain: a logistic score over two to two dozen features (only the
 * local mean and the depth kept a weight: they are in move 5 now); counting the
 * bands that rise; compressing each band's rise; a maximum filter over
 * neighbouring bands; the rise over the greatest or mean level of 0.15 or 0.3 s;
 * leaving out the greatest bands; weights by band; asking both halves of the
 * window, the low or the high bands to rise; greedy instead of plain maxima.
 *
 * A rumble is where the level below 600 Hz, over 0.3 s, stands above the quiet
 * background (5th percentile within a minute) and not 40 dB under the loudest
 * moment within a minute. */
#ifndef TC_DETECT_H
#define TC_DETECT_H

#include "words/model.h"

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
