#include "words/text.h"

#include <stdint.h>
#include <string.h>

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
    if (n == 2) return (s[0] == 0xC2 && s[1] < 0xA0) || (s[0] == 0xD8 && s[1] == 0x9C);
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
