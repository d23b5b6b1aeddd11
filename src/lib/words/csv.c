#include "words/csv.h"

#include <string.h>

#include "words/memory.h"
#include "words/numbers.h"

enum { ROW_MOST = 1 << 20, CELLS_MOST = 4096 }; /* far beyond any table of ours */
/* How much of a text in pieces is in memory; more is read before a row that may
 * not fit into the rest. */
enum { WINDOW = 4 * ROW_MOST, REST_LEAST = 2 * ROW_MOST + 4 * CELLS_MOST };

struct csv {
    const char *at, *end;
    struct csv_text source;
    char *window;       /* of a text in pieces; else NULL */
    int64_t behind;     /* bytes of it up to `end` */
    char separator;
    long line, row_line;
    char *text;         /* the row's cells, each NUL-terminated */
    size_t used, room;
    size_t *cells;      /* offsets into text */
    size_t count;
};

static bool at_line_end(const struct csv *c)
{
    return c->at == c->end || *c->at == '\n' || *c->at == '\r';
}

/* Steps over CR LF, LF or CR. */
static void skip_line_end(struct csv *c)
{
    if (c->at == c->end) return;
    if (*c->at++ == '\r' && c->at < c->end && *c->at == '\n') c->at++;
    c->line++;
}

/* ---- The separator ---- */

/* A line "sep=;" as spreadsheets write it before the header row. */
static bool take_sep_line(struct csv *c)
{
    const char *start = c->at;
    bool quoted = c->end - c->at >= 7 && *c->at == '"';
    if (quoted) c->at++;
    if (c->end - c->at >= 5 && !memcmp(c->at, "sep=", 4) && memchr(",;\t", c->at[4], 3)) {
        char separator = c->at[4];
        c->at += 5;
        if (quoted && c->at < c->end && *c->at == '"') c->at++;
        while (!at_line_end(c) && *c->at == separator) c->at++; /* one that was saved as a row of cells */
        if (at_line_end(c)) {
            c->separator = separator;
            skip_line_end(c);
            return true;
        }
    }
    c->at = start;
    return false;
}

/* The first separator of the first row that says something, outside of quotes. */
static void find_separator(struct csv *c)
{
    bool quoted = false, any = false;
    for (const char *b = c->at; b < c->end; b++) {
        if (*b == '"') quoted = !quoted;
        if (quoted) continue;
        if (any && (*b == '\n' || *b == '\r')) return;
        any = any || (*b != '\n' && *b != '\r');
        if (*b != ',' && *b != ';' && *b != '\t') continue;
        c->separator = *b;
        return;
    }
}

/* Moves what is left to the front of the window and reads on after it. */
static void refill(struct csv *c)
{
    size_t left = (size_t)(c->end - c->at);
    if (!c->window || left >= REST_LEAST || c->behind >= c->source.size) return;
    memmove(c->window, c->at, left);
    size_t more = c->source.read(c->source.user, c->behind, c->window + left, WINDOW - left);
    c->at = c->window;
    c->end = c->window + left + more;
    c->behind = more ? c->behind + (int64_t)more : c->source.size; /* shorter than was said: that was all */
}

struct csv *csv_open_text(const struct csv_text *text)
{
    struct csv *c = memory_new(1, sizeof *c);
    if (!c || !(c->text = memory_new(1, c->room = 4096))
        || !(c->cells = memory_new(CELLS_MOST, sizeof *c->cells))
        || (!text->bytes && !(c->window = memory_new(1, WINDOW)))) {
        csv_close(c);
        return NULL;
    }
    c->source = *text;
    c->at = c->end = text->bytes ? text->bytes : c->window;
    if (text->bytes) c->end += text->size, c->behind = text->size;
    refill(c);
    c->line = 1;
    c->separator = ',';
    if (c->end - c->at >= 3 && !memcmp(c->at, "\xEF\xBB\xBF", 3)) c->at += 3;
    if (!take_sep_line(c)) find_separator(c);
    return c;
}

struct csv *csv_open(const char *text, size_t size)
{
    return csv_open_text(&(struct csv_text){ .bytes = text ? text : "", .size = (int64_t)size });
}

/* ---- Rows ---- */

static enum csv_result put(struct csv *c, char byte)
{
    if (c->used == c->room) {
        if (c->room >= ROW_MOST) return CSV_TOO_LONG;
        char *more = memory_resize(c->text, 2 * c->room);
        if (!more) return CSV_MEMORY;
        c->text = more;
        c->room *= 2;
    }
    c->text[c->used++] = byte;
    return CSV_ROW;
}

/* What stands between quotes; leaves the reader after the closing one. */
static enum csv_result read_quoted(struct csv *c)
{
    enum csv_result r = CSV_ROW;
    for (c->at++; r == CSV_ROW; c->at++) {
        if (c->at == c->end) return CSV_BAD_QUOTE;
        char b = *c->at;
        bool after_cr = c->at[-1] == '\r';
        if (b == '\r' || (b == '\n' && !after_cr)) c->line++;
        if (b == 0) return CSV_NUL;
        if (b == '"') {
            bool doubled = c->at + 1 < c->end && c->at[1] == '"';
            c->at++;
            if (!doubled) return CSV_ROW;
        }
        r = put(c, b);
    }
    return r;
}

/* Reads one cell up to its separator or line end. */
static enum csv_result read_cell(struct csv *c)
{
    if (c->count == CELLS_MOST) return CSV_TOO_LONG;
    c->cells[c->count++] = c->used;
    enum csv_result r = CSV_ROW;
    bool quoted = c->at < c->end && *c->at == '"';
    if (quoted) r = read_quoted(c);
    for (; r == CSV_ROW && !at_line_end(c) && *c->at != c->separator; c->at++) {
        if (quoted) return CSV_BAD_QUOTE; /* text after the closing quote */
        r = *c->at ? put(c, *c->at) : CSV_NUL;
    }
    return r == CSV_ROW ? put(c, 0) : r;
}

/* Nothing in any cell, as spreadsheets leave rows at the end. */
static bool row_is_blank(const struct csv *c)
{
    for (size_t i = 0; i < c->used; i++)
        if (c->text[i] && c->text[i] != ' ' && c->text[i] != '\t') return false;
    return true;
}

enum csv_result csv_next(struct csv *c)
{
    for (refill(c); c->at < c->end; refill(c)) {
        c->used = c->count = 0;
        c->row_line = c->line;
        for (;;) {
            enum csv_result r = read_cell(c);
            if (r != CSV_ROW) return r;
            if (at_line_end(c)) break;
            c->at++; /* the separator */
        }
        if (c->at == c->end && c->behind < c->source.size) return CSV_TOO_LONG;
        skip_line_end(c);
        if (!row_is_blank(c)) return CSV_ROW;
    }
    c->count = 0;
    c->row_line = c->line;
    return CSV_END;
}

size_t csv_count(const struct csv *c)
{
    return c->count;
}

const char *csv_get(const struct csv *c, size_t i)
{
    return i < c->count ? c->text + c->cells[i] : "";
}

const char *csv_word(struct csv *c, size_t i)
{
    if (i >= c->count) return "";
    char *cell = c->text + c->cells[i], *end = cell + strlen(cell);
    while (end > cell && (end[-1] == ' ' || end[-1] == '\t')) *--end = 0;
    return cell + strspn(cell, " \t");
}

bool csv_number(struct csv *c, size_t i, double *out)
{
    return number_read_with(csv_word(c, i), ',', out);
}

long csv_line(const struct csv *c)
{
    return c->row_line;
}

double csv_share(const struct csv *c)
{
    return c->source.size ? (double)(c->behind - (c->end - c->at)) / (double)c->source.size : 1;
}

const char *csv_result_text(enum csv_result r)
{
    static const char *const texts[] = {
        [CSV_ROW] = "a row",
        [CSV_END] = "the end of the file",
        [CSV_BAD_QUOTE] = "a quoted cell that does not end with its quote",
        [CSV_TOO_LONG] = "a row that is too long",
        [CSV_NUL] = "a zero byte: this is not plain text; save it as CSV in UTF-8",
        [CSV_MEMORY] = "out of memory",
    };
    return texts[r];
}

bool csv_is_formula(const char *cell)
{
    return *cell && strchr("=+-@\t\r", *cell);
}

const char *csv_unguarded(const char *cell)
{
    return *cell == '\'' && csv_is_formula(cell + 1) ? cell + 1 : cell;
}

void csv_close(struct csv *c)
{
    if (!c) return;
    memory_free(c->cells);
    memory_free(c->text);
    memory_free(c->window);
    memory_free(c);
}
