/* Counts flashes in finished levels, by code that shares only weights, curves
 * and the numbers of the rule (dimmer.h, units.h, flash_rule.h) with the
 * limiter.
 *
 * The rule: somebody begins to look at any moment and for one second, knowing
 * nothing of before. The light at that moment is the first extreme, lowest and
 * highest at once. From there on light is followed from peak to valley; every
 * change of 10 % or more of the all-on light against the last one is a
 * transition (the first may go either way). The second is half-open and ends
 * one second later. No look may hold more than twice the limit of transitions.
 *
 * In words for another counter of the same thing (light held from row to row):
 * for every row f, begin with the light of row f as low and high, take the rows
 * after it as long as they come less than 1 s after row f + 1, and count:
 *
 *     up or not known yet, and high - light >= 0.10:  a fall; low = high = light
 *     down or not known yet, and light - low >= 0.10: a rise; low = high = light
 *     else low = min(low, light), high = max(high, light)
 *
 * The time before the first row counts as a dark row. Where light slides from
 * row to row, looks that begin on the way find no more than one that begins at
 * a row and lasts a row longer; the limiter keeps to that for every series.
 *
 * "Any group" is one look at branches, floods and all groups side by side: a
 * transition of any of them counts if it goes against the last one counted.
 * Within one frame the order is taken that gives the highest count.
 *
 * Sources and known differences from other counters stand in flash_count.c. */
#ifndef TC_FLASH_COUNT_H
#define TC_FLASH_COUNT_H

#include "words/model.h"

/* ---- One look at one series ---- */

struct flash_look {
    double low, high;    /* since the last transition, or since the look began */
    int heading;         /* +1 rose last, -1 fell last, 0 not known yet */
    int count;
};

struct flash_look flash_look_begin(double light);
/* +1 or -1 if this light made a transition up or down, else 0. */
int flash_look_step(struct flash_look *l, double light);

/* ---- A whole timeline ---- */

struct flash_counter;

/* Borrows the rig. `full` is the level of 100 percent (1000 or 255). `limit`:
 * flashes allowed in a second, for the report; 0 = off. It is dark before the
 * first frame. TC_ERR_MEMORY. */
enum tc_status flash_counter_create(struct flash_counter **out, const struct tc_rig *rig,
                                    uint16_t full, int64_t limit);
/* The next frame's levels in rig order, at a moment in microseconds. */
void flash_counter_step(struct flash_counter *c, const uint16_t *levels, int64_t at_us);
/* The same with the light of every channel, 0..1, for moments between frames.
 * A counter takes either levels or light, not both by turns. */
void flash_counter_light(struct flash_counter *c, const double *light, int64_t at_us);
/* Flashes in the worst look of a second that ends with the latest frame, of the
 * worst series; a flash that has begun counts, so more than the limit means a
 * violation. */
int flash_counter_recent(const struct flash_counter *c);
/* Transitions of the worst series in the worst look so far. */
int flash_counter_peak(const struct flash_counter *c);
/* True if the channel (index into the rig) changed within that second. */
bool flash_counter_peak_channel(const struct flash_counter *c, size_t channel);
void flash_counter_report(const struct flash_counter *c, struct flash_report *out);
void flash_counter_destroy(struct flash_counter *c);

/* The verdict: more flashes in some second than the limit that was asked for.
 * Nothing is too fast where the limit is off. */
bool flash_report_too_fast(const struct flash_report *r);

#endif
