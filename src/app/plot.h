/* A still picture of the lanes as SVG 1.1, for print and for a README: sound,
 * what was heard, the light of every channel and the flash rate on one time
 * axis. A page of fixed width, whatever the length of the recording; no script,
 * no font and no picture from elsewhere. */
#ifndef TC_WRITE_PLOT_H
#define TC_WRITE_PLOT_H

#include <stdio.h>

#include "words/model.h"

/* All borrowed. */
struct plot_facts {
    const char *title;
    const struct tc_rig *rig;
    const struct tc_settings *settings;
    const struct tc_analysis *heard;
    const struct tc_timeline *timeline;
    const struct columns *columns;
    const struct flash_report *flash;
    const struct load_report *load;
    double sound_late_s;             /* the sound starts this long after the light */
};

/* Write errors of `out` stay with the stream. */
void plot_write(FILE *out, const struct plot_facts *facts);

#endif
