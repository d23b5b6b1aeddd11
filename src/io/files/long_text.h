/* A text file that may be too long for memory, as a table that is read once or
 * a few times from its beginning: a timeline of hours and hundreds of channels. */
#ifndef TC_LONG_TEXT_H
#define TC_LONG_TEXT_H

#include <stdio.h>

#include "io/files/read_file.h"
#include "words/csv.h"

struct long_text {
    struct csv_text text;    /* for its reader */
    struct file_text whole;  /* a short one, or one that is no regular file, is taken as it always is */
    FILE *in;                /* of a long one */
    int64_t at;              /* where that stands */
    int trouble;             /* errno of a reading that failed */
};

/* As file_read. The text points at *out, which must stay where it is. */
enum tc_status long_text_open(struct long_text *out, const char *path, enum tc_status status, struct tc_problem *why);
/* To be asked when the text was read: TC_OK, or `status` if it ended because reading failed. */
enum tc_status long_text_result(const struct long_text *t, const char *path, enum tc_status status,
                                struct tc_problem *why);
void long_text_close(struct long_text *t);

#endif
