/* Text files that the user hands over, taken into memory as a whole. */
#ifndef TC_READ_FILE_H
#define TC_READ_FILE_H

#include "thundercue.h"

struct file_text {
    char *bytes;   /* with a zero after them that `size` does not count */
    size_t size;
};

/* Reads a file, or standard input where `path` is "-". A file that can't be
 * read, or is larger than any text that a person or a program would write
 * (FILE_TEXT_MOST), gives `status` with *why naming the file and the reason;
 * TC_ERR_MEMORY. Reading ends after a block with a zero byte, since that is no
 * text: whoever reads it names the line. Free with file_text_free. */
#define FILE_TEXT_MOST ((size_t)1 << 30)
enum tc_status file_read(const char *path, enum tc_status status, struct file_text *out,
                         struct tc_problem *why);
void file_text_free(struct file_text *t);

#endif
