#include "words/numbers.h"

#include <float.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

/* ---- Out ---- */

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

/* ---- In ---- */

/* A number as it is written: digits * 10^exponent. */
enum { DIGITS_MOST = 100, EXPONENT_MOST = 400 };

struct decimal {
    bool negative;
    int count;                        /* digits, without zeroes before them */
    unsigned char digit[DIGITS_MOST];
    int exponent;
};

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

/* Takes a cell apart. False if it is no number, or one that nobody writes. */
static bool decimal_read(const char *c, char point, struct decimal *d)
{
    bool any = false, fraction = false;
    *d = (struct decimal){ .negative = *c == '-' };
    if (*c == '-' || *c == '+') c++;
    for (; is_digit(*c) || (!fraction && (*c == '.' || *c == point)); c++) {
        if (!is_digit(*c)) {
            fraction = true;
            continue;
        }
        any = true;
        if (fraction) d->exponent--;
        if (!d->count && *c == '0') continue;
        if (d->count == DIGITS_MOST) return false;
        d->digit[d->count++] = (unsigned char)(*c - '0');
    }
    if (!any) return false;
    if (*c == 'e' || *c == 'E') {
        c++;
        bool down = *c == '-';
        if (*c == '-' || *c == '+') c++;
        if (!is_digit(*c)) return false;
        int shift = 0;
        for (; is_digit(*c); c++)
            if (shift < 10000) shift = 10 * shift + (*c - '0');
        d->exponent += down ? -shift : shift;
    }
    return !*c;
}

/* Whole numbers of any length that matters here, in limbs of 32 bits, lowest first. */
enum { LIMBS = 64 };

struct big {
    uint32_t limb[LIMBS];
    int used;                          /* limbs, without zeroes above */
};

static void big_multiply(struct big *b, uint32_t by, uint32_t add)
{
    uint64_t carry = add;
    for (int i = 0; i < b->used; i++) {
        carry += (uint64_t)b->limb[i] * by;
        b->limb[i] = (uint32_t)carry;
        carry >>= 32;
    }
    if (carry) b->limb[b->used++] = (uint32_t)carry;
}

static int big_bits(const struct big *b)
{
    int bits = 32 * (b->used - 1);
    for (uint32_t top = b->limb[b->used - 1]; top; top >>= 1) bits++;
    return bits;
}

static void big_shift(struct big *b, int bits)
{
    for (; bits >= 16; bits -= 16) big_multiply(b, 1u << 16, 0);
    big_multiply(b, 1u << bits, 0);
}

static bool big_less(const struct big *a, const struct big *b)
{
    if (a->used != b->used) return a->used < b->used;
    for (int i = a->used - 1; i >= 0; i--)
        if (a->limb[i] != b->limb[i]) return a->limb[i] < b->limb[i];
    return false;
}

static void big_subtract(struct big *a, const struct big *b)
{
    uint64_t borrow = 0;
    for (int i = 0; i < a->used; i++) {
        uint64_t less = (i < b->used ? b->limb[i] : 0) + borrow;
        borrow = a->limb[i] < less;
        a->limb[i] -= (uint32_t)less;
    }
    while (a->used && !a->limb[a->used - 1]) a->used--;
}

/* Correctly rounded, by long division: the quotient of two whole numbers, bit
 * by bit, with what is left telling which way to round (halves to even). */
static double decimal_divide(const struct decimal *d)
{
    struct big over = { { 0 }, 0 }, under = { { 1 }, 1 };
    for (int i = 0; i < d->count; i++) big_multiply(&over, 10, d->digit[i]);
    for (int e = d->exponent; e > 0; e--) big_multiply(&over, 10, 0);
    for (int e = d->exponent; e < 0; e++) big_multiply(&under, 10, 0);
    /* over / under is in [2^(power-1), 2^(power+1)); make it [1/2, 2) and draw bits */
    int power = big_bits(&over) - big_bits(&under);
    if (power > 0) big_shift(&under, power);
    else big_shift(&over, -power);
    if (big_less(&over, &under)) {
        power--;
        big_shift(&over, 1);
    }
    int bits = power < DBL_MIN_EXP - 1 ? DBL_MANT_DIG - (DBL_MIN_EXP - 1 - power)
        : DBL_MANT_DIG; /* fewer where numbers end */
    if (bits < 0) return 0;
    uint64_t mantissa = 0;
    for (int i = 0; i < bits; i++) {
        bool one = !big_less(&over, &under);
        if (one) big_subtract(&over, &under);
        mantissa = 2 * mantissa + one;
        if (over.used) big_shift(&over, 1);
    }
    bool half = over.used && !big_less(&over, &under);
    if (half) big_subtract(&over, &under);
    if (half && (over.used || mantissa % 2)) mantissa++;
    return ldexp((double)mantissa, power - bits + 1);
}

static double decimal_value(const struct decimal *d)
{
    /* Powers of ten that are exact: with a whole number below 2^53 one rounding gives the answer. */
    static const double tens[] = { 1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,  1e8,  1e9,  1e10, 1e11,
                                   1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22 };
    enum { EXACT_DIGITS = 15, EXACT_TENS = 22 };
    if (!d->count) return 0;
    if (d->count + d->exponent > EXPONENT_MOST) return (double)INFINITY;
    if (d->count + d->exponent < -EXPONENT_MOST) return 0;
    if (d->count > EXACT_DIGITS || d->exponent > EXACT_TENS || d->exponent < -EXACT_TENS || FLT_EVAL_METHOD != 0)
        return decimal_divide(d);
    int64_t whole = 0;
    for (int i = 0; i < d->count; i++) whole = 10 * whole + d->digit[i];
    return d->exponent < 0 ? (double)whole / tens[-d->exponent] : (double)whole * tens[d->exponent];
}

bool number_read_with(const char *cell, char point, double *out)
{
    struct decimal d;
    if (!decimal_read(cell, point, &d)) return false;
    double value = decimal_value(&d);
    if (isinf(value)) return false;
    *out = d.negative ? -value : value;
    return true;
}

bool number_read(const char *cell, double *out)
{
    return number_read_with(cell, '.', out);
}

bool number_read_whole(const char *cell, int64_t *out)
{
    bool negative = *cell == '-';
    uint64_t value = 0, most = negative ? (uint64_t)INT64_MAX + 1 : INT64_MAX;
    if (*cell == '-' || *cell == '+') cell++;
    if (!*cell) return false;
    for (; *cell; cell++) {
        if (!is_digit(*cell)) return false;
        uint64_t digit = (uint64_t)(*cell - '0');
        if (value > (most - digit) / 10) return false;
        value = 10 * value + digit;
    }
    *out = negative ? (int64_t)(0 - value) : (int64_t)value;
    return true;
}
