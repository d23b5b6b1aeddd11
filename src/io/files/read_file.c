#include "io/files/read_file.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "words/status.h"
#include "words/text.h"

enum { FIRST_BYTES = 1 << 16 };

/* Makes room for more, and for the zero after it; false out of memory. */
static bool grow(struct file_text *t, size_t *room)
{
    size_t more = *room ? 2 * *room : FIRST_BYTES;
    char *bytes = realloc(t->bytes, more + 1);
    if (!bytes) return false;
    t->bytes = bytes;
    *room = more;
    return true;
}

static enum tc_status read_all(FILE *in, const char *shown, enum tc_status status, struct file_text *t,
                               struct tc_problem *why)
{
    for (size_t room = 0;;) {
        if (t->size == room && !grow(t, &room)) return problem_say(why, TC_ERR_MEMORY);
        errno = 0;
        size_t got = fread(t->bytes + t->size, 1, room - t->size, in);
        if (ferror(in)) return problem_set(why, status, "%s: can't be read: %s", shown, strerror(errno ? errno : EIO));
        bool no_text = memchr(t->bytes + t->size, 0, got) != NULL;
        t->size += got;
        t->bytes[t->size] = 0;
        if (!got || no_text) return TC_OK;
        if (t->size > FILE_TEXT_MOST)
            return problem_set(why, status, "%s: is larger than %zu MB, the most that is read of such a file", shown,
                               FILE_TEXT_MOST >> 20);
    }
}

enum tc_status file_read(const char *path, enum tc_status status, struct file_text *out,
                         struct tc_problem *why)
{
    char shown[256];
    bool standard_input = !strcmp(path, "-");
    *out = (struct file_text){ NULL, 0 };
    text_plain(shown, sizeof shown, standard_input ? "standard input" : path);
    FILE *in = standard_input ? stdin : fopen(path, "rb");
    if (!in) return problem_set(why, status, "%s: can't be read: %s", shown, strerror(errno));
    enum tc_status result = read_all(in, shown, status, out, why);
    if (!standard_input) fclose(in);
    if (result != TC_OK) file_text_free(out);
    return result;
}

void file_text_free(struct file_text *t)
{
    free(t->bytes);
    *t = (struct file_text){ NULL, 0 };
}
