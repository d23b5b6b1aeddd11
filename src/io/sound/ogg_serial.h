/* The serial number of an Ogg stream (RFC 3533), which writers draw at random:
 * with a fixed one the same sound gives the same bytes. */
#ifndef TC_OGG_SERIAL_H
#define TC_OGG_SERIAL_H

#include <stdint.h>
#include <stdio.h>

#include "thundercue.h"

/* Numbers all pages of a finished file anew. TC_ERR_WRITE, also where it is no
 * Ogg. */
enum tc_status ogg_serial_set(FILE *file, uint32_t serial);

#endif
