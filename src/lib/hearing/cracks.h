/* Finds cracks in what the ear hears.
 *
 * What a person marks as a crack, looking at a spectrogram, is a step: within
 * some 60 ms many bands get louder than they just were. The detector measures
 * that step, in six moves:
 *
 * 1. Levels in dB, not power: a step counts by its height over what was there,
 *    so that bands far under the loudest one have their say (the energy of a
 *    distant clap lies below 500 Hz, its edge shows best around 2 kHz).
 * 2. Despiked: a band may stand at most 8 dB above its opening in time over
 *    35 ms (the highest level that it holds for 35 ms around the moment).
 *    Clicks and drops, even smeared over the analysis window, are shorter.
 * 3. A floor 44 dB under the loud level of the surroundings, the loudest 0.17 s
 *    within a minute to each side: what lies deeper nobody notices. What is more
 *    than 10 s away is forgotten by 1 dB a second, down to 15 dB: a far clap half
 *    a minute after a near one counts by what is around it.
 * 4. The rise: each band's mean level of the 25 ms from the moment on, less its
 *    mean level of the 55 ms before it, not below 0, and at most 6 dB and three
 *    times what is left of it 30 to 50 ms later; the mean over all bands but the
 *    one that rises most. The middle bands weigh most, the lowest a fifth
 *    less. Bands with nothing in them, because of a low sample rate or a
 *    low-pass filter on the way, count as risen half as much as the two below.
 *    Where steady noise (quiet.h) leaves a band less than those 44 dB under the
 *    loud level, its rise counts in proportion more, 1.5 times at most; where there
 *    is nothing but steady noise, nothing rises.
 * 5. The score: the rise, less 0.6 times the mean rise of the 0.8 s to each
 *    side, so that restless surroundings ask for more; less 0.1 for each dB
 *    that the moment lies under the loud level, 15 dB at most, so that what is
 *    soft must be clearer. A score is at most four times what is left of the
 *    whole rise 30 to 50 ms later: a click leaves nothing. Amid spikes (move 2
 *    cut something off nearby) the low bands must show that there is thunder:
 *    rain on the microphone has little below 680 Hz.
 * 6. Peaks of the score are candidates; a stronger one takes those
 *    within 85 ms away. If one of those came before it, has 0.7 of its score,
 *    and is at most 3 dB softer, the crack is where that one was: of two
 *    attacks alike people mark the first, of a soft and a loud one the loud. In the
 *    end all go that are more than 40 dB under the loudest moment of the whole
 *    recording: in a show nobody hears them.
 *
 *         before      after             (one step = 5 ms)
 *      |----------|---------|
 *     -11        -1 0       4
 *   ----------------+--------------------------------------------> time
 *                 step k
 *      |<-- mean rise, spikes: k - 160 .. k + 160 -->|
 *      |<-- loud level: k - 12000 .. k + 12000 ---------- ... ---->|
 *
 * It looks ahead a minute (loud level, noise) and 1 s (mean, peaks), and holds
 * 16384 steps: 4.2 MB. The moment of a crack is where 0.4 of the rise is done, found
 * between steps; people put it there. Its strength goes by loudness (square root
 * of the amplitude), by its score, and by the share of the rise that is left 30
 * to 50 ms later: what is gone at once lights little.
 *
 * Each candidate carries the lowest sensitivity at which it counts, so that
 * choosing events for a sensitivity is a comparison, a higher sensitivity never
 * finds less, and a sweep needs one analysis only. The score at which a
 * candidate counts halves with every 30 points of sensitivity above 50, and
 * doubles with every 45 points below: a step of 10 costs about as much F on
 * either side.
 *
 * DEVELOPERS.md tells how the numbers were chosen and what was tried. */
#ifndef TC_CRACKS_H
#define TC_CRACKS_H

#include "words/model.h"

struct cracks;

/* TC_ERR_MEMORY. */
enum tc_status cracks_create(struct cracks **out);

/* The next step, in order from 0. TC_ERR_MEMORY (only its results grow). */
enum tc_status cracks_step(struct cracks *d, const struct hearing *h);

/* After the last step: moves the candidates, by time, into *out. TC_ERR_MEMORY. */
enum tc_status cracks_finish(struct cracks *d, struct tc_analysis *out);

/* NULL is fine. */
void cracks_destroy(struct cracks *d);

#endif
