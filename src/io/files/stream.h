/* Streams of the C library as sinks for what the library writes. Write errors
 * stay with the stream too, for its owner to look at. */
#ifndef TC_STREAM_H
#define TC_STREAM_H

#include <stdbool.h>
#include <stdio.h>

#include "thundercue.h"

/* Borrows the stream. Its writes fail with TC_ERR_WRITE. */
struct tc_sink stream_sink(FILE *out);

/* One cell of CSV between other things that go to the stream (words/sink.h). */
void stream_cell(FILE *out, const char *cell, bool guard);

#endif
