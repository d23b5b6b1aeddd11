#include "words/text.h"

#include <errno.h>
#include <limits.h>
#include <stdlib.h>
#include <string.h>

#include "words/memory.h"

/* ---- Numbers ---- */

char *text_fixed(char *to, int64_t value, int decimals)
{
    char digits[24];
    int n = 0;
    uint64_t rest = value < 0 ? 0 - (uint64_t)value : (uint64_t)value;
    do {
        digits[n++] = (char)('0' + rest % 10);
        rest /= 10;
    } while (rest || n <= decimals);
    if (value < 0) *to++ = '-';
    while (n > 0) {
        if (n == decimals) *to++ = '.';
        *to++ = digits[--n];
    }
    return to;
}

static bool plain_number(const char *cell)
{
    if (!*cell) return false;
    return strspn(cell, "0123456789+-.eE") == strlen(cell);
}

bool text_number(const char *cell, double *out)
{
    if (!plain_number(cell)) return false;
    char *end;
    double value = strtod(cell, &end);
    if (*end || end == cell || value - value != 0) return false; /* inf - inf is not 0 */
    *out = value;
    return true;
}

bool text_whole(const char *cell, int64_t *out)
{
    if (!*cell || strspn(cell, "0123456789+-") != strlen(cell)) return false;
    char *end;
    errno = 0;
    long long value = strtoll(cell, &end, 10);
    if (*end || end == cell || errno) return false;
    *out = value;
    return true;
}

/* ---- CSV out ---- */

void csv_cell(FILE *out, const char *cell, bool guard)
{
    bool harm = guard && *cell && strchr("=+-@\t\r", *cell);
    if (!strpbrk(cell, ",\"\r\n")) {
        if (harm) putc('\'', out);
        fputs(cell, out);
        return;
    }
    putc('"', out);
    if (harm) putc('\'', out);
    for (; *cell; cell++) {
        if (*cell == '"') putc('"', out);
        putc(*cell, out);
    }
    putc('"', out);
}

/* ---- CSV in ---- */

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

/* ---- For people ---- */

/* Length of the well-formed UTF-8 sequence at `s`, 0 if it is not one. */
static size_t utf8_length(const unsigned char *s)
{
    if (s[0] < 0x80) return 1;
    size_t n = s[0] >= 0xC2 && s[0] < 0xE0 ? 2 : s[0] >= 0xE0 && s[0] < 0xF0 ? 3
             : s[0] >= 0xF0 && s[0] < 0xF5 ? 4 : 0;
    for (size_t i = 1; i < n; i++)
        if ((s[i] & 0xC0) != 0x80) return 0;
    if (n == 3 && s[0] == 0xE0 && s[1] < 0xA0) return 0;
    if (n == 3 && s[0] == 0xED && s[1] >= 0xA0) return 0;
    if (n == 4 && s[0] == 0xF0 && s[1] < 0x90) return 0;
    if (n == 4 && s[0] == 0xF4 && s[1] >= 0x90) return 0;
    return n;
}

/* Control characters, and the marks that turn the direction of text. */
static bool disturbs(const unsigned char *s, size_t n)
{
    if (n == 1) return s[0] < 0x20 || s[0] == 0x7F;
    if (n == 2) return s[0] == 0xC2 && s[1] < 0xA0;
    if (n != 3 || s[0] != 0xE2) return false;
    return (s[1] == 0x80 && (s[2] == 0x8E || s[2] == 0x8F || (s[2] >= 0xA8 && s[2] <= 0xAE)))
        || (s[1] == 0x81 && s[2] >= 0xA6 && s[2] <= 0xA9);
}

const char *text_plain(char *to, size_t size, const char *from)
{
    const unsigned char *s = (const unsigned char *)from;
    size_t used = 0;
    while (*s) {
        size_t n = utf8_length(s);
        bool odd = !n || disturbs(s, n);
        size_t take = odd ? 1 : n;
        if (used + take + 4 > size) { /* room for "..." and NUL */
            memcpy(to + used, "...", 3);
            used += 3;
            break;
        }
        if (odd) to[used] = '?';
        else memcpy(to + used, s, n);
        used += take;
        s += n ? n : 1;
    }
    to[used] = 0;
    return to;
}

bool text_same(const char *a, const char *b)
{
    for (;; a++, b++) {
        int x = *a >= 'A' && *a <= 'Z' ? *a + 32 : *a;
        int y = *b >= 'A' && *b <= 'Z' ? *b + 32 : *b;
        if (x != y) return false;
        if (!x) return true;
    }
}

bool text_utf8(const char *s)
{
    for (const unsigned char *c = (const unsigned char *)s; *c;) {
        size_t n = utf8_length(c);
        if (!n) return false;
        c += n;
    }
    return true;
}

/* First and last code points that take no column, or two: the main blocks of
 * Unicode's combining marks (Mn) and of its East Asian width W and F. */
struct width {
    uint32_t first, last;
    size_t columns;
};

static const struct width widths[] = {
    { 0x0300, 0x036F, 0 },   { 0x0483, 0x0489, 0 },   { 0x0591, 0x05BD, 0 },   { 0x064B, 0x065F, 0 },
    { 0x1AB0, 0x1AFF, 0 },   { 0x1DC0, 0x1DFF, 0 },   { 0x200B, 0x200F, 0 },   { 0x20D0, 0x20FF, 0 },
    { 0x1100, 0x115F, 2 },   { 0x2E80, 0x303E, 2 },   { 0x3041, 0xA4CF, 2 },   { 0xAC00, 0xD7A3, 2 },
    { 0xF900, 0xFAFF, 2 },   { 0xFE00, 0xFE0F, 0 },   { 0xFE20, 0xFE2F, 0 },   { 0xFE30, 0xFE6F, 2 },
    { 0xFF00, 0xFF60, 2 },   { 0xFFE0, 0xFFE6, 2 },   { 0x1F300, 0x1F64F, 2 }, { 0x1F680, 0x1F6FF, 2 },
    { 0x1F900, 0x1FAFF, 2 }, { 0x20000, 0x3FFFD, 2 },
};

static size_t columns_of(uint32_t point)
{
    for (size_t i = 0; i < sizeof widths / sizeof *widths; i++)
        if (point >= widths[i].first && point <= widths[i].last) return widths[i].columns;
    return 1;
}

size_t text_columns(const char *s)
{
    size_t columns = 0;
    for (const unsigned char *c = (const unsigned char *)s; *c;) {
        size_t n = utf8_length(c);
        uint32_t point = n < 2 ? *c : *c & (0xFFU >> (n + 1));
        for (size_t i = 1; i < n; i++) point = point << 6 | (c[i] & 0x3FU);
        columns += columns_of(point);
        c += n ? n : 1;
    }
    return columns;
}

size_t text_distance(const char *a, const char *b)
{
    enum { MOST = 32 };
    size_t n = strlen(b), row[MOST + 1];
    if (n > MOST || strlen(a) > MOST) return MOST;
    for (size_t j = 0; j <= n; j++) row[j] = j;
    for (size_t i = 0; a[i]; i++) {
        size_t corner = row[0];
        row[0] = i + 1;
        for (size_t j = 0; j < n; j++) {
            size_t change = corner + (a[i] != b[j]);
            corner = row[j + 1];
            size_t best = row[j] + 1 < corner + 1 ? row[j] + 1 : corner + 1;
            row[j + 1] = change < best ? change : best;
        }
    }
    return row[n];
}
