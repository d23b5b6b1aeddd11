/* The rig sheet: what to hook up where, and the sums that a crew wants to see
 * before the first plug goes in. A stage that turns a rig into text, into CSV
 * for a spreadsheet, and into findings. Writes to a stream whose errors the
 * caller checks; allocates nothing.
 *
 * All sums count nameplates with everything on. No figure is advice to go up
 * to it, and the sheet says who decides. */
#ifndef TC_RIG_SHEET_H
#define TC_RIG_SHEET_H

#include <stdio.h>

#include "words/model.h"

/* The whole sheet for people, with its findings, and their number. */
size_t rig_sheet_text(FILE *out, const struct tc_rig *rig);

/* One row per channel (RFC 4180), its own findings in the last column. Names
 * that a spreadsheet would run as formulas are guarded. */
void rig_sheet_csv(FILE *out, const struct tc_rig *rig);

#endif
