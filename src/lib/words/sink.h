/* Text on its way to a sink (struct tc_sink, thundercue.h): buffered, so that
 * the sink is called seldom, and with the first error kept, so that whoever
 * writes a table asks once, at its end. */
#ifndef TC_SINK_H
#define TC_SINK_H

#include <stdbool.h>
#include <stdint.h>

#include "thundercue.h"

enum { WRITER_ROOM = 16384 };

struct writer {
    struct tc_sink sink;
    enum tc_status status;      /* of the first write that failed; nothing is written after it */
    size_t used;
    char bytes[WRITER_ROOM];
};

void writer_begin(struct writer *w, struct tc_sink sink);

/* Hands what is buffered to the sink; the first error of all so far. */
enum tc_status writer_end(struct writer *w);

/* Room for `size` bytes, at most WRITER_ROOM, to be filled in place; then
 * writer_take tells where the filling ended. */
char *writer_room(struct writer *w, size_t size);
void writer_take(struct writer *w, const char *end);

void writer_bytes(struct writer *w, const char *bytes, size_t size);
void writer_text(struct writer *w, const char *text);
/* Up to 2000 bytes. For whole numbers and words: what printf makes of a
 * fraction depends on the country. */
void writer_format(struct writer *w, const char *format, ...) __attribute__((format(printf, 2, 3)));
/* `value` / 10^decimals. */
void writer_fixed(struct writer *w, int64_t value, int decimals);

/* A cell of CSV, quoted where RFC 4180 asks for it. `guard`: a cell that a
 * spreadsheet would run as a formula gets an apostrophe before it (words/csv.h). */
void writer_cell(struct writer *w, const char *cell, bool guard);
/* The same, guarded, for a name of somebody else's: as text_plain shows it. */
void writer_name(struct writer *w, const char *name);

#endif
