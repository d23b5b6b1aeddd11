/* Numbers of the light network that rig files and packets share (ANSI
 * E1.31-2018; the bytes themselves are in io/network/e131.h). */
#ifndef TC_NETWORK_H
#define TC_NETWORK_H

enum {
    UNIVERSE_SLOTS = 512,    /* levels in a universe (DMX512-A) */
    UNIVERSE_MOST = 63999,   /* the last universe that there is */
    PRIORITY_MOST = 200,
    PRIORITY_USUAL = 100,
};

#endif
