/* Words for people: what is safe to show, what looks alike. */
#ifndef TC_TEXT_H
#define TC_TEXT_H

#include <stdbool.h>
#include <stddef.h>

/* Copies text with control characters and broken UTF-8 shown as '?', cut with
 * "..." to `size`, so that a hostile name can't disturb a terminal. */
const char *text_plain(char *to, size_t size, const char *from);

/* True if two words are the same but for ASCII case. */
bool text_same(const char *a, const char *b);

/* True if the text is well-formed UTF-8. */
bool text_utf8(const char *s);

/* Number of single edits (a letter more, less or other) between two words of
 * up to 32 letters; 32 if one is longer. For "did you mean". */
size_t text_distance(const char *a, const char *b);

/* How far a word is from a known one: 0 if it is a beginning of it, else one
 * more than their distance. */
size_t text_farness(const char *word, const char *known);

#endif
