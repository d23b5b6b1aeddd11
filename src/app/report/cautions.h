/* The cautions, each written once: for the report, the rig sheet, --help and
 * the man page. They say what the trade says, in short, and leave the decision
 * to local code, product labels, a licensed electrician and a qualified rigger. */
#ifndef TC_CAUTIONS_H
#define TC_CAUTIONS_H

#include <stdio.h>

enum caution {
    CAUTION_FLASHING,    /* flashing light and people */
    CAUTION_LIMIT_OFF,   /* the flash limit is off */
    CAUTION_WIRING,      /* who decides */
    CAUTION_CONTINUOUS,  /* 3 hours and more */
    CAUTION_DRIVERS,     /* amperes of LED drivers */
    CAUTION_OUTDOORS,    /* wet places, GFCI or RCD */
    CAUTION_STRINGS,     /* end to end */
    CAUTION_CORDS,
    CAUTION_LED_DIMMING, /* dead band, least load, only what can be dimmed */
    CAUTION_LED_SLOW,    /* drivers that start and stop slowly */
    CAUTION_FILAMENT,    /* incandescent lamps */
    CAUTION_LINE,        /* what hangs overhead */
    CAUTION_POWER_LINES,
    CAUTION_LIVE,        /* before lamps light by themselves */
    CAUTION_COUNT
};

/* One or two sentences on one line; "" out of range. */
const char *caution_text(enum caution which);

/* Writes a text broken into lines of at most `width` columns, the first after
 * `first`, the others after `rest`. */
void caution_wrap(FILE *out, const char *text, const char *first, const char *rest, size_t width);

/* A notice to print and to put up where visitors still have a choice. Several
 * lines, the last ended. */
const char *visitor_notice(void);

#endif
