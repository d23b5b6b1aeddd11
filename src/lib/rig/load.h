/* Electrical load: what all lamps draw together, and the most that a timeline
 * really draws. A lamp is taken to draw its watts in proportion to its level
 * above zero (common practice for dimmed loads; nameplates count for safety). */
#ifndef TC_LOAD_H
#define TC_LOAD_H

#include "words/model.h"

struct load_meter;

/* Borrows the rig. TC_ERR_MEMORY. */
enum tc_status load_meter_create(struct load_meter **out, const struct tc_rig *rig, uint16_t full);
void load_meter_step(struct load_meter *m, const uint16_t *levels, int64_t at_ms);
/* Moves the sums out; clear them with load_report_clear. */
void load_meter_report(struct load_meter *m, struct load_report *out);
void load_meter_destroy(struct load_meter *m);
void load_report_clear(struct load_report *r);

/* 80 % of the breaker in watts: for loads of 3 hours and more (NEC 210.20(A),
 * electric.h; local code and a licensed electrician decide). */
double circuit_advice_w(const struct tc_circuit *c);
/* The verdict: what is connected draws more than that. */
bool circuit_over(const struct tc_circuit *c, double all_on_w);

#endif
