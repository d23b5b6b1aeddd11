#include "io/files/ledger.h"

#include <errno.h>
#include <fcntl.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include "io/files/digest.h"
#include "io/files/outfile.h"
#include "words/status.h"
#include "words/text.h"

enum { HEAD_MOST = 32, OPEN_TRIES = 100 };

struct entry {
    char *name;       /* as it stands in the file: odd bytes as %XX */
    uint64_t digest;
    size_t place;     /* in the file */
    bool done;        /* "wrote" */
};

struct ledger {
    char *path;
    FILE *stream;     /* held, and appended to; NULL otherwise */
    struct entry *entries; /* as they were written */
    size_t count, room;
};

/* The last part of a path with everything that a line can't hold as %XX. */
static char *line_name(const char *path)
{
    const char *slash = strrchr(path, '/'), *from = slash ? slash + 1 : path;
    char *name = calloc(3 * strlen(from) + 1, 1), *to = name;
    for (; name && *from; from++) {
        unsigned char c = (unsigned char)*from;
        if (c > ' ' && c != 127 && c != '%') *to++ = *from;
        else to += sprintf(to, "%%%02X", c);
    }
    return name;
}

static bool add(struct ledger *l, const char *name, uint64_t digest, bool done)
{
    if (l->count == l->room) {
        size_t room = l->room ? 2 * l->room : 64;
        struct entry *more = realloc(l->entries, room * sizeof *more);
        if (!more) return false;
        l->entries = more;
        l->room = room;
    }
    char *copy = strdup(name);
    if (!copy) return false;
    l->entries[l->count] = (struct entry){ copy, digest, l->count, done };
    l->count++;
    return true;
}

/* A line that makes no sense is passed over: its file is then unknown. */
static bool take_line(struct ledger *l, char *line)
{
    char word[8];
    unsigned long long digest = 0;
    int at = 0;
    line[strcspn(line, "\n")] = 0;
    if (sscanf(line, "%7s %16llx %n", word, &digest, &at) != 2 || !at || !line[at]) return true;
    bool done = !strcmp(word, "wrote");
    if (!done && strcmp(word, "writes")) return true;
    return add(l, line + at, digest, done);
}

static enum tc_status read_all(struct ledger *l, FILE *in, struct tc_problem *why)
{
    char *line = NULL;
    size_t size = 0;
    bool whole = true;
    while (whole && getline(&line, &size, in) > 0) whole = take_line(l, line);
    free(line);
    return whole ? TC_OK : problem_say(why, TC_ERR_MEMORY);
}

/* A file of that name that somebody else wrote. What a full disk tore, or a
 * power cut filled with zeros, begins as a note or with a zero. */
static bool is_foreign(FILE *in)
{
    char start[6] = "";
    size_t n = fread(start, 1, sizeof start, in);
    rewind(in);
    return n && start[0] && memcmp(start, "writes", n) && memcmp(start, "wrote ", n);
}

static enum tc_status refuse(const struct ledger *l, const char *what, struct tc_problem *why)
{
    char plain[512];
    return problem_set(why, TC_ERR_WRITE,
                       "%s: %s; thundercue keeps a note of what it wrote under this "
                       "name: rename it, or choose another folder",
                       text_plain(plain, sizeof plain, l->path), what);
}

/* The whole note from its beginning, if it is one. */
static enum tc_status read_note(struct ledger *l, FILE *in, struct tc_problem *why)
{
    struct stat st;
    if (fstat(fileno(in), &st) || !S_ISREG(st.st_mode)) return refuse(l, "is not a file", why);
    if (is_foreign(in)) return refuse(l, "is something else", why);
    return read_all(l, in, why);
}

static struct ledger *create(const char *folder)
{
    struct ledger *l = calloc(1, sizeof *l);
    size_t room = strlen(folder) + sizeof LEDGER_NAME + 2;
    if (!l || !(l->path = calloc(1, room))) {
        free(l);
        return NULL;
    }
    snprintf(l->path, room, "%s/%s", *folder ? folder : ".", LEDGER_NAME);
    return l;
}

enum tc_status ledger_open(struct ledger **out, const char *folder, struct tc_problem *why)
{
    struct ledger *l = create(folder);
    *out = l;
    if (!l) return problem_say(why, TC_ERR_MEMORY);
    int fd = open(l->path, O_RDONLY | O_NONBLOCK | O_CLOEXEC); /* a pipe must not hold us up */
    FILE *in = fd < 0 ? NULL : fdopen(fd, "rb");
    char plain[512];
    enum tc_status status = TC_OK;
    if (fd >= 0 && !in) close(fd);
    if (in) status = read_note(l, in, why);
    else if (errno != ENOENT && errno != ENOTDIR)
        status = problem_set(why, TC_ERR_WRITE, "%s: can't be read: %s", text_plain(plain, sizeof plain, l->path),
                             strerror(errno));
    if (in) fclose(in);
    if (status == TC_OK) return status;
    ledger_close(l);
    *out = NULL;
    return status;
}

/* True if the open file is still the one of that name: ledger_tidy puts a new
 * one in its place. */
static bool still_there(const struct ledger *l, int fd)
{
    struct stat a, b;
    return !fstat(fd, &a) && !stat(l->path, &b) && a.st_dev == b.st_dev && a.st_ino == b.st_ino;
}

static enum tc_status fail(const struct ledger *l, int error, struct tc_problem *why)
{
    char plain[512];
    return problem_set(why, TC_ERR_WRITE, "%s: can't be written: %s", text_plain(plain, sizeof plain, l->path),
                       strerror(error));
}

/* A last line that was torn, as by a full disk, ends here and not in the next one. */
static void end_line(FILE *stream)
{
    bool torn = !fseek(stream, -1, SEEK_END) && getc(stream) != '\n';
    fseek(stream, 0, SEEK_END);
    if (torn) putc('\n', stream);
}

enum tc_status ledger_hold(struct ledger **out, const char *folder, struct tc_problem *why)
{
    struct ledger *l = create(folder);
    *out = NULL;
    if (!l) return problem_say(why, TC_ERR_MEMORY);
    int fd = -1, error = 0;
    for (int i = 0; fd < 0 && !error && i < OPEN_TRIES; i++) {
        fd = open(l->path, O_RDWR | O_CREAT | O_APPEND | O_NOFOLLOW | O_NONBLOCK | O_CLOEXEC, 0666);
        if (fd < 0) error = errno;
        while (fd >= 0 && flock(fd, LOCK_EX) && errno == EINTR) continue; /* a disk without locks must do */
        if (fd >= 0 && !still_there(l, fd)) {
            close(fd);
            fd = -1;
        }
    }
    if (fd >= 0 && !(l->stream = fdopen(fd, "a+"))) {
        error = errno;
        close(fd);
    }
    enum tc_status status = l->stream ? TC_OK : fail(l, error ? error : EBUSY, why);
    if (l->stream) rewind(l->stream);
    if (status == TC_OK) status = read_note(l, l->stream, why);
    if (status == TC_OK) end_line(l->stream);
    if (status == TC_OK) *out = l;
    else ledger_close(l);
    return status;
}

enum ledger_word ledger_look(const struct ledger *l, const char *path)
{
    struct stat st;
    uint64_t digest = 0;
    if (stat(path, &st)) return LEDGER_ABSENT;
    char *name = line_name(path);
    enum ledger_word word = LEDGER_UNKNOWN;
    if (name && S_ISREG(st.st_mode) && digest_file(&digest, path, NULL)) {
        /* The last that was finished, and what was begun after it. */
        for (size_t i = 0; i < l->count; i++) {
            if (strcmp(l->entries[i].name, name)) continue;
            bool same = l->entries[i].digest == digest;
            if (l->entries[i].done) word = same ? LEDGER_OURS : LEDGER_EDITED;
            else if (same) word = LEDGER_OURS;
            else if (word == LEDGER_UNKNOWN) word = LEDGER_EDITED;
        }
    }
    free(name);
    return word;
}

enum tc_status ledger_check(const struct ledger *l, const char *path, enum ledger_over over, struct tc_problem *why)
{
    char plain[512];
    struct stat st;
    text_plain(plain, sizeof plain, path);
    if (stat(path, &st)) return TC_OK;
    if (!S_ISREG(st.st_mode)) return problem_set(why, TC_ERR_WRITE, "%s: can't be written: is not a file", plain);
    if (over == OVER_EDITS) return TC_OK;
    enum ledger_word word = ledger_look(l, path);
    if (word == LEDGER_EDITED)
        return problem_set(why, TC_ERR_EXISTS,
                           "%s: was edited since thundercue wrote it; --discard-edits overwrites it", plain);
    if (over == OVER_NOTHING)
        return problem_set(why, TC_ERR_EXISTS, "%s: exists already; use --force to overwrite it", plain);
    if (word == LEDGER_UNKNOWN)
        return problem_set(why, TC_ERR_EXISTS,
                           "%s: may hold edits, since nothing here tells that thundercue "
                           "wrote it; --discard-edits overwrites it",
                           plain);
    return TC_OK;
}

static bool put(struct ledger *l, const char *word, const char *path, uint64_t digest)
{
    char *name = line_name(path);
    bool written = name && fprintf(l->stream, "%s %016llx %s\n", word, (unsigned long long)digest, name) > 0;
    free(name);
    return written;
}

enum tc_status ledger_note(struct ledger *l, const char *path, uint64_t digest, struct tc_problem *why)
{
    errno = 0;
    return put(l, "writes", path, digest) ? TC_OK : fail(l, errno ? errno : ENOMEM, why);
}

enum tc_status ledger_settle(struct ledger *l, struct tc_problem *why)
{
    bool settled = !fflush(l->stream) && (!fsync(fileno(l->stream)) || errno == EINVAL || errno == ENOTSUP);
    return settled ? TC_OK : fail(l, errno, why);
}

void ledger_noted(struct ledger *l, const char *path, uint64_t digest)
{
    put(l, "wrote", path, digest); /* without it both contents count as ours */
}

void ledger_close(struct ledger *l)
{
    if (!l) return;
    if (l->stream) fclose(l->stream);
    for (size_t i = 0; i < l->count; i++) free(l->entries[i].name);
    free(l->entries);
    free(l->path);
    free(l);
}

/* By name, and of one name as they were written. */
static int by_name(const void *left, const void *right)
{
    const struct entry *a = left, *b = right;
    int order = strcmp(a->name, b->name);
    return order ? order : (a->place > b->place) - (a->place < b->place);
}

/* The file of an entry, or NULL. */
static char *path_of(const char *folder, const char *name)
{
    char *path = calloc(1, strlen(folder) + strlen(name) + 2), *to;
    if (!path) return NULL;
    to = path + sprintf(path, "%s/", folder);
    for (; *name; name++) {
        unsigned byte = 0;
        if (*name == '%' && sscanf(name + 1, "%2x", &byte) == 1) name += 2;
        *to++ = byte ? (char)byte : *name;
    }
    return path;
}

void ledger_tidy(const char *folder)
{
    struct ledger *l = NULL;
    struct outfile *file = NULL;
    if (!*folder) folder = ".";
    if (ledger_open(&l, folder, NULL) != TC_OK) return;
    bool empty = !l->count;
    ledger_close(l);
    if (empty) return;
    if (ledger_hold(&l, folder, NULL) != TC_OK || !l->count) {
        ledger_close(l);
        return;
    }
    qsort(l->entries, l->count, sizeof *l->entries, by_name);
    bool settled = true;
    for (size_t i = 0; i < l->count; i++) { /* the last of each name, if it was finished */
        struct entry *e = &l->entries[i];
        bool last = i + 1 == l->count || strcmp(e->name, e[1].name);
        if (last) settled = settled && e->done;
        else e->name[0] = 0;
    }
    if (settled && outfile_open(&file, l->path, true, NULL) == TC_OK) {
        FILE *out = outfile_stream(file);
        for (size_t i = 0; i < l->count; i++) {
            char *path = l->entries[i].name[0] ? path_of(folder, l->entries[i].name) : NULL;
            if (path && !access(path, F_OK))
                fprintf(out, "wrote %016llx %s\n", (unsigned long long)l->entries[i].digest, l->entries[i].name);
            free(path);
        }
        outfile_commit(file, NULL);
    }
    ledger_close(l);
}
