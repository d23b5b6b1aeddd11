/* What a sweep found, as tables and as advice. */
#ifndef TC_TUNE_REPORT_H
#define TC_TUNE_REPORT_H

#include <stdio.h>

#include "marks/sweep_choice.h"

/* As CSV: the header row, and the rows of a recording or of the sum. */
void tune_csv_head(FILE *out);
void tune_csv_rows(FILE *out, const char *name, const struct sweep *t);

/* A line for each recording of a folder, at the row nearest to a sensitivity. */
void tune_print_recordings_head(FILE *out, double sensitivity);
void tune_print_recording(FILE *out, const char *name, const struct sweep *one, double sensitivity);

/* The sweep, with a line for each sensitivity. */
void tune_print_sweep(FILE *out, const struct sweep *t, const struct sweep_choice *c);

/* Which to take and why. `one`: it is of one recording, whose cracks are told
 * by their times. TC_ERR_MEMORY. */
enum tc_status tune_print_advice(FILE *out, struct sweep *t, const struct sweep_choice *c, bool one);

#endif
