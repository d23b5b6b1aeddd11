#include "words/sink.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "words/csv.h"
#include "words/numbers.h"
#include "words/text.h"

void writer_begin(struct writer *w, struct tc_sink sink)
{
    w->sink = sink;
    w->status = TC_OK;
    w->used = 0;
}

enum tc_status writer_end(struct writer *w)
{
    if (w->status == TC_OK && w->used) w->status = w->sink.write(w->sink.to, w->bytes, w->used);
    w->used = 0;
    return w->status;
}

char *writer_room(struct writer *w, size_t size)
{
    if (size > WRITER_ROOM - w->used) writer_end(w);
    return w->bytes + w->used;
}

void writer_take(struct writer *w, const char *end)
{
    w->used = (size_t)(end - w->bytes);
}

void writer_bytes(struct writer *w, const char *bytes, size_t size)
{
    while (size) {
        size_t part = size < WRITER_ROOM ? size : WRITER_ROOM;
        memcpy(writer_room(w, part), bytes, part);
        w->used += part;
        bytes += part;
        size -= part;
    }
}

void writer_text(struct writer *w, const char *text)
{
    writer_bytes(w, text, strlen(text));
}

void writer_format(struct writer *w, const char *format, ...)
{
    enum { MOST = 2000 };
    char *to = writer_room(w, MOST + 1);
    va_list args;
    va_start(args, format);
    int n = vsnprintf(to, MOST + 1, format, args);
    va_end(args);
    if (n >= 0 && n <= MOST) writer_take(w, to + n);
    else if (w->status == TC_OK) w->status = TC_ERR_INTERNAL;
}

void writer_fixed(struct writer *w, int64_t value, int decimals)
{
    writer_take(w, number_fixed(writer_room(w, NUMBER_ROOM), value, decimals));
}

void writer_cell(struct writer *w, const char *cell, bool guard)
{
    bool harm = guard && csv_is_formula(cell);
    bool quoted = cell[strcspn(cell, ",\"\r\n")] != 0;
    if (quoted) writer_text(w, "\"");
    if (harm) writer_text(w, "'");
    if (!quoted) {
        writer_text(w, cell);
        return;
    }
    while (*cell) { /* a quote within is doubled */
        size_t plain = strcspn(cell, "\"");
        writer_bytes(w, cell, plain);
        cell += plain;
        if (!*cell) break;
        writer_text(w, "\"\"");
        cell++;
    }
    writer_text(w, "\"");
}

void writer_name(struct writer *w, const char *name)
{
    char plain[TC_NAME_SIZE + 24];
    writer_cell(w, text_plain(plain, sizeof plain, name), true);
}
