/* Counts flashes in finished levels, by code that shares only weights and
 * curves (dimmer.h, units.h) with the limiter. The rule, its sources and its known differences from other
 * counters stand in flash.c. */
#ifndef TC_FLASH_H
#define TC_FLASH_H

#include "words/model.h"

/* ---- One series of light ---- */

enum { FLASH_WINDOW_MOST = 256 };

/* Follows one series from peak to valley. Zero-initialise, then step. */
struct flash_series {
    double extreme;          /* the last peak or valley; while the direction is
                                not known, the lowest light so far */
    double highest;          /* the highest so far; only while it is not known */
    int direction;           /* +1 rising, -1 falling, 0 not known yet */
    bool started;
    int64_t stamps[FLASH_WINDOW_MOST]; /* microseconds of the latest transitions, a ring */
    uint64_t count;          /* transitions in all */
};

enum { FLASH_THRESHOLD_PERCENT = 10 };

/* Takes the light (all-on = 1) at a moment in microseconds, moments rising.
 * +1 or -1 if that made a transition up or down, else 0. */
int flash_series_step(struct flash_series *s, double light, int64_t at_us);

/* Transitions in the half-open second that ends with (and contains) `at_us`;
 * FLASH_WINDOW_MOST stands for that many or more. */
int flash_series_recent(const struct flash_series *s, int64_t at_us);

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
/* Flashes in the second that ends with the latest frame, of the worst series;
 * a flash that has begun counts, so more than the limit means a violation. */
int flash_counter_recent(const struct flash_counter *c);
/* Transitions of the worst series in the worst second so far. */
int flash_counter_peak(const struct flash_counter *c);
/* True if the channel (index into the rig) changed within that second. */
bool flash_counter_peak_channel(const struct flash_counter *c, size_t channel);
void flash_counter_report(const struct flash_counter *c, struct flash_report *out);
void flash_counter_destroy(struct flash_counter *c);

#endif
