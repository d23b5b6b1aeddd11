/* The rig sheet: what to hook up where, and the sums that a crew wants to see
 * before the first plug goes in. A stage that turns a rig into text, into CSV
 * for a spreadsheet, and into findings. Writes to a stream whose errors the
 * caller checks; allocates nothing.
 *
 * All sums count nameplates with everything on. No figure is advice to go up
 * to it, and the sheet says who decides. */
#ifndef TC_RIGSHEET_H
#define TC_RIGSHEET_H

#include <stdio.h>

#include "words/model.h"

/* Something that is over its limit. One line of plain text. */
struct rig_finding {
    int channel;            /* index into the rig's channels; -1 = not of one channel */
    char text[400];
};

typedef void rig_finding_fn(void *user, const struct rig_finding *finding);

/* Tells every finding, in the order of the sheet, and returns their number.
 * `tell` may be NULL. */
size_t rigsheet_findings(const struct tc_rig *rig, rig_finding_fn *tell, void *user);

/* The whole sheet for people, with its findings, and their number. */
size_t rigsheet_text(FILE *out, const struct tc_rig *rig);

/* One row per channel (RFC 4180), its own findings in the last column. Names
 * that a spreadsheet would run as formulas are guarded. */
void rigsheet_csv(FILE *out, const struct tc_rig *rig);

#endif
