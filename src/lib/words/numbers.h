/* Numbers to text and back, the same in every country: '.' whatever the locale. */
#ifndef TC_NUMBERS_H
#define TC_NUMBERS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* `value` / 10^decimals as text, e.g. 1234567 with 3 decimals "1234.567".
 * Writes to `to` (NUMBER_ROOM) without a final NUL and returns the end. Much
 * faster than printf; frames.csv is made of these. */
enum { NUMBER_ROOM = 24 };
char *number_fixed(char *to, int64_t value, int decimals);

/* A number as people write it, with up to so many digits: "0.5", "1e-05". */
const char *number_show(char *to, size_t size, double value, int digits);

/* The same within the arguments of a message. */
enum { SHOWN_ROOM = 32 };
#define SHOWN(value, digits) number_show((char[SHOWN_ROOM]){ "" }, SHOWN_ROOM, (value), (digits))

/* Reads a whole cell as a decimal number ("12", "-3.5", "1e3"; no hex, no
 * inf, no spaces). False if it is anything else. */
bool number_read(const char *cell, double *out);
/* The same where ',' or another sign may stand for the point, too. */
bool number_read_with(const char *cell, char point, double *out);
/* The same for a whole number within int64. */
bool number_read_whole(const char *cell, int64_t *out);

#endif
