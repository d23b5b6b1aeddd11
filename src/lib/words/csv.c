#include "words/csv.h"

#include <stdbool.h>
#include <string.h>

#include "words/memory.h"

enum { ROW_MOST = 1 << 20, CELLS_MOST = 4096 }; /* far beyond any table of ours */

struct csv {
    FILE *in;
    long line, row_line;
    char *text;         /* the row's cells, each NUL-terminated */
    size_t used, room;
    size_t *cells;      /* offsets into text */
    size_t count;
};

struct csv *csv_open(FILE *in)
{
    struct csv *c = memory_new(1, sizeof *c);
    if (!c || !(c->text = memory_new(1, c->room = 4096))
        || !(c->cells = memory_new(CELLS_MOST, sizeof *c->cells))) {
        csv_close(c);
        return NULL;
    }
    c->in = in;
    c->line = 1;
    int first = getc(in);
    if (first == 0xEF) { /* a byte order mark, as spreadsheets write it */
        if (getc(in) != 0xBB || getc(in) != 0xBF) rewind(in);
    } else if (first != EOF) {
        ungetc(first, in);
    }
    return c;
}

static enum csv_result put(struct csv *c, int byte)
{
    if (c->used == c->room) {
        if (c->room >= ROW_MOST) return CSV_TOO_LONG;
        char *more = memory_resize(c->text, 2 * c->room);
        if (!more) return CSV_MEMORY;
        c->text = more;
        c->room *= 2;
    }
    c->text[c->used++] = (char)byte;
    return CSV_ROW;
}

/* Reads one cell up to its comma or line end, which is left in *stop. */
static enum csv_result read_cell(struct csv *c, int *stop)
{
    if (c->count == CELLS_MOST) return CSV_TOO_LONG;
    c->cells[c->count++] = c->used;
    enum csv_result r = CSV_ROW;
    int b = getc(c->in);
    bool quoted = b == '"';
    if (quoted) {
        for (;;) {
            b = getc(c->in);
            if (b == EOF) return CSV_BAD_QUOTE;
            if (b == '\n') c->line++;
            if (b == '"') {
                b = getc(c->in);
                if (b != '"') break;
            }
            if (b == 0) return CSV_NUL;
            if ((r = put(c, b)) != CSV_ROW) return r;
        }
    }
    for (; b != ',' && b != '\n' && b != EOF; b = getc(c->in)) {
        if (b == '\r') {
            b = getc(c->in);
            if (b == '\n' || b == EOF) break;
            ungetc(b, c->in);
            b = '\r';
        }
        if (quoted) return CSV_BAD_QUOTE; /* text after the closing quote */
        if (b == 0) return CSV_NUL;
        if ((r = put(c, b)) != CSV_ROW) return r;
    }
    *stop = b;
    return put(c, 0);
}

enum csv_result csv_next(struct csv *c)
{
    for (;;) {
        c->used = c->count = 0;
        c->row_line = c->line;
        int first = getc(c->in);
        if (first == EOF) return ferror(c->in) ? CSV_IO : CSV_END;
        ungetc(first, c->in);
        int stop = ',';
        while (stop == ',') {
            enum csv_result r = read_cell(c, &stop);
            if (r != CSV_ROW) return r;
        }
        if (stop == '\n') c->line++;
        if (stop == EOF && ferror(c->in)) return CSV_IO;
        if (c->count > 1 || *csv_get(c, 0)) return CSV_ROW;
    }
}

size_t csv_count(const struct csv *c)
{
    return c->count;
}

const char *csv_get(const struct csv *c, size_t i)
{
    return i < c->count ? c->text + c->cells[i] : "";
}

long csv_line(const struct csv *c)
{
    return c->row_line;
}

const char *csv_result_text(enum csv_result r)
{
    static const char *const texts[] = {
        [CSV_ROW] = "a row",
        [CSV_END] = "the end of the file",
        [CSV_BAD_QUOTE] = "a quoted cell that does not end with its quote",
        [CSV_TOO_LONG] = "a row that is too long",
        [CSV_NUL] = "a zero byte: this is not a text file",
        [CSV_MEMORY] = "out of memory",
        [CSV_IO] = "the file can't be read further",
    };
    return texts[r];
}

void csv_close(struct csv *c)
{
    if (!c) return;
    memory_free(c->cells);
    memory_free(c->text);
    memory_free(c);
}
