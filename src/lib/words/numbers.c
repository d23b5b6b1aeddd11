#include "words/numbers.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

char *number_fixed(char *to, int64_t value, int decimals)
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

const char *number_show(char *to, size_t size, double value, int digits)
{
    char text[64];
    size_t used = 0;
    snprintf(text, sizeof text, "%.*g", digits, value);
    bool point = false;
    for (const char *c = text; *c && used + 1 < size; c++) {
        bool plain = strchr("0123456789+-einfa", *c);
        if (plain) to[used++] = *c;
        else if (!point) to[used++] = '.'; /* whatever the locale has for it, in however many bytes */
        point = point || !plain;
    }
    if (size) to[used] = 0;
    return to;
}

static bool plain_number(const char *cell)
{
    if (!*cell) return false;
    return strspn(cell, "0123456789+-.eE") == strlen(cell);
}

bool number_read(const char *cell, double *out)
{
    if (!plain_number(cell)) return false;
    char *end;
    double value = strtod(cell, &end);
    if (*end || end == cell || value - value != 0) return false; /* inf - inf is not 0 */
    *out = value;
    return true;
}

bool number_read_whole(const char *cell, int64_t *out)
{
    if (!*cell || strspn(cell, "0123456789+-") != strlen(cell)) return false;
    char *end;
    errno = 0;
    long long value = strtoll(cell, &end, 10);
    if (*end || end == cell || errno) return false;
    *out = value;
    return true;
}
