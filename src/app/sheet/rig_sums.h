/* The sums behind a rig sheet, and the findings that follow from them, without
 * any layout. Nameplates, everything on. */
#ifndef TC_RIG_SUMS_H
#define TC_RIG_SUMS_H

#include "words/model.h"

/* Taken where the rig file says nothing: at the upper end of the usual factors,
 * for over people. */
#define DESIGN_OVER_PEOPLE  12.0

const struct tc_circuit *circuit_of(const struct tc_rig *rig, const struct tc_channel *c);
double channel_amps(const struct tc_rig *rig, const struct tc_channel *c);

struct sum {
    size_t channels;
    double watts, amps;
};

void sum_add(struct sum *s, const struct tc_rig *rig, const struct tc_channel *c);
struct sum circuit_sum(const struct tc_rig *rig, size_t circuit);
struct sum bank_sum(const struct tc_rig *rig, const struct tc_bank *bank);

/* Of the cord to a channel's lamps; 0 where its length or gauge is not known. */
double cord_feet(const struct tc_channel *c);
double cord_drop(const struct tc_rig *rig, const struct tc_channel *c); /* V */
double cord_drop_percent(const struct tc_rig *rig, const struct tc_channel *c);

/* The overhead line's sums, in N, with what the rig file leaves open filled in. */
struct line_sums {
    double tension, knot, design_factor;
    double needed;          /* breaking strength */
    double good_for;        /* tension; 0 = breaking strength not given */
};

struct line_sums line_sums(const struct tc_overhead *o);

/* "125.0 lb" or "613.0 N (62.5 kg)"; "50.00 ft" or "15.00 m". */
const char *force_text(char *to, size_t size, double newtons, bool metric);
const char *length_text(char *to, size_t size, double metres, bool metric);

/* Something that is over its limit. One line of plain text. */
struct rig_finding {
    int channel;            /* index into the rig's channels; -1 = not of one channel */
    char text[400];
};

typedef void rig_finding_fn(void *user, const struct rig_finding *finding);

/* Tells every finding, in the order of the sheet, and returns their number.
 * `tell` may be NULL. */
size_t rig_findings(const struct tc_rig *rig, rig_finding_fn *tell, void *user);

#endif
