#include "io/files/long_text.h"

#include <errno.h>
#include <string.h>
#include <sys/stat.h>

#include "words/status.h"
#include "words/text.h"

/* What is longer is read in pieces. */
#define LONG_BYTES ((int64_t)16 << 20)

static size_t read_piece(void *user, int64_t at, char *to, size_t room)
{
    struct long_text *t = user;
    errno = 0;
    if (t->at != at && fseeko(t->in, (off_t)at, SEEK_SET)) {
        t->trouble = errno ? errno : EIO;
        return 0;
    }
    size_t got = fread(to, 1, room, t->in);
    t->at = at + (int64_t)got;
    if (ferror(t->in)) t->trouble = errno ? errno : EIO;
    return got;
}

enum tc_status long_text_open(struct long_text *out, const char *path, enum tc_status status, struct tc_problem *why)
{
    struct stat st;
    *out = (struct long_text){ 0 };
    if (strcmp(path, "-") && !stat(path, &st) && S_ISREG(st.st_mode) && st.st_size > LONG_BYTES)
        out->in = fopen(path, "rb");
    if (out->in) {
        out->text = (struct csv_text){ .read = read_piece, .user = out, .size = st.st_size };
        return TC_OK;
    }
    enum tc_status result = file_read(path, status, &out->whole, why);
    out->text = (struct csv_text){ .bytes = out->whole.bytes, .size = (int64_t)out->whole.size };
    return result;
}

enum tc_status long_text_result(const struct long_text *t, const char *path, enum tc_status status,
                                struct tc_problem *why)
{
    char shown[256];
    if (!t->trouble) return TC_OK;
    return problem_set(why, status, "%s: can't be read: %s", text_plain(shown, sizeof shown, path),
                       strerror(t->trouble));
}

void long_text_close(struct long_text *t)
{
    if (t->in) fclose(t->in);
    file_text_free(&t->whole);
    *t = (struct long_text){ 0 };
}
