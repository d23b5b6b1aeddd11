#include "words/text.h"

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

/* Control characters, the marks that turn the direction of text, and what takes
 * no room: two names that look the same must be the same. Joiners stay, since
 * scripts and pictures need them. */
static bool disturbs(const unsigned char *s, size_t n)
{
    if (n == 1) return s[0] < 0x20 || s[0] == 0x7F;
    if (n == 2) return (s[0] == 0xC2 && s[1] < 0xA0) || (s[0] == 0xD8 && s[1] == 0x9C);
    if (n == 3 && s[0] == 0xEF) return s[1] == 0xBB && s[2] == 0xBF; /* U+FEFF */
    if (n != 3 || s[0] != 0xE2) return false;
    return (s[1] == 0x80 && (s[2] == 0x8B || s[2] == 0x8E || s[2] == 0x8F || (s[2] >= 0xA8 && s[2] <= 0xAE)))
        || (s[1] == 0x81 && (s[2] == 0xA0 || (s[2] >= 0xA6 && s[2] <= 0xA9)));
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

size_t text_farness(const char *word, const char *known)
{
    return strncmp(word, known, strlen(word)) ? 1 + text_distance(word, known) : 0;
}
