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
 *    one that rises most. The middle bands have most to say, the outermost a
 *    fifth less. Bands with nothing in them, because of a low sample rate or a
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
 *    rain on the microphone has little below 600 Hz.
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
 * 16384 steps: 3.5 MB. The moment of a crack is where 0.4 of the rise is done, found
 * between steps; people put it there. Its strength goes by loudness (square root
 * of the amplitude), by its score, and by the share of the rise that is left 30
 * to 50 ms later: what is gone at once lights little. Under dirt of 13 kinds
 * false cracks have a mean strength of 0.32, clear ones 0.36, unmistakable ones
 * 0.67 (by loudness and score alone 0.47, 0.43, 0.70).
 *
 * Each candidate carries the lowest sensitivity at which it counts, so that
 * choosing events for a sensitivity is a comparison, a higher sensitivity never
 * finds less, and a sweep needs one analysis only. The score at which a
 * candidate counts halves with every 30 points of sensitivity above 50, and
 * doubles with every 45 points below: a step of 10 costs about as much F on
 * either side.
 *
 * Where the numbers come from: first 700 draws of all of them together, then one
 * change at a time, scored on 52 labelled recordings (145 cracks that must be
 * found; ten hold rain or wind alone) and on the same in 33 kinds of dirt and other
 * clothes (noise made and recorded, rain, drops, birds, wind, clipping, limiting,
 * low rates, filters, a codec, padding, cuts), leaving out each group of recordings
 * that share a thunder in turn. So that one hit more or less says little, what
 * counts is F as a mean over thresholds around the best, and its change beside the
 * spread of that change when whole groups are drawn again and again (0.001 to
 * 0.009). Each number is the middle of its plateau. Change of F when it alone
 * changes, on the recordings as they are and over all clothes, in thousandths:
 *
 *   floor 40 / 42 / 46 / 48 dB            -24 / -6 / -3 / -8    -8 / +1 / -2 / -5
 *   20 / 30 ms after                      -10 / -23             +2 / -11
 *   50 / 60 ms before                     -3 / -5               -2 / -1
 *   spikes up to 6 / 10 dB                -6 / -1               -2 / -1
 *   held for 30 / 40 ms                    0 / -12              -1 /  0
 *   mean rise over 0.6 / 1 s              -2 / -3                0 / -1
 *     its share 0.5 / 0.7                 -1 / -4               +1 / -2
 *   depth 0.08 / 0.12 for each dB         -6 / -6                0 / -4
 *     at most 12 dB / without limit       +1 /  0               +1 /  0
 *   loud level over 0.1 / 0.18 s          -3 / -2               -1 /  0
 *     forgotten from 5 / 8 s on / never   -6 / -1 / 0           -3 / -1 / +1
 *   outermost bands 0 / 0.1 / 0.3 less    -3 / -2 / -3          +1 / +1 / -1
 *   empty bands 0 / 0.3 / 0.7             -7 / -5 / -1          -2 / +3 / -2
 *   a short rise: 5 / 8 dB / no limit     -4 / -5 / -6          +3 / -2 / -2
 *   twice / any times what is left         0 / -2               -1 / -1
 *   at most 3 / 5 times the whole rise     0 /  0               -1 /  0
 *   out of noise 1 / 1.25 / 2 times       +2 / +1 / 0           -1 /  0 /  0
 *   spikes with no thunder under them      0                    -2
 *   silence filled with 2 / 4 dB less      0 /  0                0 /  0
 *   alone within 80 / 90 ms                0 / -4               +1 / -3
 *   of two attacks always the stronger    -7                    -3
 *     share 0.6 / 0.8, 2 / 4 dB softer    -4 / 0, 0 / 0         -2 / 0, 0 / +1
 *
 * and, of 28 of these recordings in 27 kinds of clothes:
 *
 *   the greatest band has its say, too    -5                    -4
 *   half of the second has none, either   -4                    -5
 *
 * What forgetting costs it wins elsewhere: of the same recordings, played again
 * 20 dB softer 20 s later, F 0.83 where 0.24 was before.
 *
 * Tried without gain, F (0.92 to 0.93 without):
 *
 *   a floor of each band under its own loudest; one tilted by frequency   0.93; 0.90
 *   a level held for 40 to 60 ms, or a second longer window after        0.86 to 0.92
 *   the least of the low bands and all; of the high bands and all        0.90; 0.78 to 0.88
 *   a rise over the mean, the greatest level of 0.2 to 0.3 s             0.91; 0.76 to 0.85
 *   counting the bands that rise; a power of the rise; a ceiling for it  0.91; 0.88 to 0.91; 0.91
 *   a local median; a mean without its middle; with its peaks cut        0.90; 0.93; 0.92
 *   falls counted against the rise                                       0.93, under noise less
 *   the first of two attacks within 90 ms, however soft                  0.90 to 0.92
 *   the same, by mean level of the bands instead of the power of all     0.93
 *   noise: all bands raised alike; bands weighed by room; room by the band's own loudest;
 *     percentiles that need not lie close together                       0.93; 0.93; 0.93; 0.86 to 0.92
 *   strength by amplitude, by the score beyond the threshold, by its power 1.5 or 2:
 *     false ones get fainter, and those that are none with them; by loudness and what
 *     is left of the rise, up to 6 dB: as good, but so many equals that light is short
 *
 * and as a change in thousandths, as above:
 *
 *   the rise of a band as the median of three neighbours; the lesser of it and its
 *     greater neighbour; of two neighbours                               -3 to -15
 *   the mean rise taken from each band by itself                         -5 to +2
 *   less for what was louder 60 to 300 ms before                         -11 to 0
 *   more for what has lasted 50 to 150 ms                                -57 to -3
 *   the level before as a mean and a share of its greatest; over 0.3 s   -11 to -21; -8 to -94
 *   spikes kept shorter where there are many                             -46 to +1
 *   bands that are not there left out of the mean                        -3 to -23
 *   what is left later counted with its sign, or less a constant         -10 to 0
 *   a loud level that fades by 0.5 to 2 dB a second from 2 or 3 s on     -6 to -27
 *   more room under noise, or a bonus for noise: hiss and pink noise      0 to +10, rain -10 to -30
 *   the power of the noise taken off first: rain, drops and wind          +5 to +25, hiss and pink -10 to -35
 *   rises shrunk by how much noise wobbles in a band of that width        -5 to +3
 *   the level that clipping or a limiter took away, known from elsewhere  0 to +10 on such recordings
 *
 * Judges trained on 30 measures of each candidate in all clothes, F on groups left
 * out where the score above has 0.937: logistic regression 0.85 to 0.90, extremely
 * random trees 0.90, boosted trees 0.92, half of each and half the score 0.92.
 *
 * What stays: cracks that pink noise 20 dB under the loudest masks; drops as
 * loud as thunder while it rolls; a recording clipped flat or pressed to one level
 * by a limiter, whose bands no longer rise; claps that lost all below 1 kHz amid
 * ticks; a soft attack in the highs 55 ms before a loud one, marked there by
 * people. */
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
