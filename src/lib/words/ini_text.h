/* Rig and settings files, line by line: [headings], key = value, comments.
 *
 *     ; a comment, or # a comment
 *     [channel 4]          ; a heading: a word, and a name or none
 *     min_level = 12       ; a comment after a value begins with a space and ';'
 *
 * ':' does for '='. Space around words counts for nothing, also before them.
 * Line ends are LF, CRLF or CR; a byte order mark at the beginning is skipped.
 * A line that is none of these is wrong, and so is one that is too long, has a
 * zero byte or is not UTF-8: nothing is cut or passed over in silence. */
#ifndef TC_INI_TEXT_H
#define TC_INI_TEXT_H

#include <stddef.h>

enum { INI_LINE_MOST = 1000 };

enum ini_line { INI_END, INI_HEADING, INI_VALUE, INI_WRONG };

/* Fields are to be read only, and live until the next line. */
struct ini {
    const char *at, *end;
    int line;                        /* number of the line, from 1 */
    const char *word, *name;         /* of a heading; the name is "" if there is none */
    const char *key, *value;
    char wrong[200];                 /* what is wrong and what would be right */
    char text[INI_LINE_MOST + 1];    /* the line, without space before it; a heading begins with [, also a wrong one */
};

/* Borrows the text. */
void ini_begin(struct ini *i, const char *text, size_t size);

/* The next line that says something. After INI_WRONG one may go on, to find more that is wrong. */
enum ini_line ini_next(struct ini *i);

#endif
