/* What the attack of a crack is like: where between the steps it lies, and
 * whether it sounds near or far. */
#ifndef TC_HEARING_ATTACK_H
#define TC_HEARING_ATTACK_H

#include "hearing/levels.h"

/* The rise is the level from the step on, to the last of these, over the level
 * of the steps before. */
enum { ATTACK_AFTER = 4, ATTACK_BEFORE_FROM = 11, ATTACK_BEFORE_TO = 1 };

/* Steps that an attack needs to see after its own. */
enum { ATTACK_LATER = 12 };

/* The moment at which 0.4 of the rise at `step` is done, found between steps, in
 * ms; people put it there. What lies under `floor` dB does not count. */
int64_t attack_moment(const struct levels *l, int64_t step, float floor);

/* The share of the rise in power that lies high, as near (1) or far (0): 8 dB
 * under the whole rise and less is sharp, 40 dB and more is dull. Air takes some
 * 10 dB at 2 kHz with every km (ISO 9613-2, 20 C, 70 % humidity). */
float attack_sharpness(const struct levels *l, int64_t step);

#endif
