#include "io/files/outfile.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include "words/status.h"
#include "words/text.h"

enum { BUFFER_BYTES = 1 << 16, NAME_TRIES = 1000, DAY_S = 24 * 60 * 60 };

struct outfile {
    char *path;
    char *aside;   /* the hidden file; NULL when writing directly */
    bool force;
    FILE *stream;  /* NULL once sealed */
    int lock;      /* holds the lock on the hidden file until it has its name; -1 = none */
    int error;     /* errno of what went wrong at sealing */
    char buffer[BUFFER_BYTES];
};

static enum tc_status fail(const struct outfile *o, struct tc_problem *why, int error)
{
    char plain[512];
    text_plain(plain, sizeof plain, o->path);
    if (error == EEXIST)
        return problem_set(why, TC_ERR_EXISTS, "%s: exists already; use --force to overwrite it",
                           plain);
    if (error == EMFILE)
        return problem_set(why, TC_ERR_WRITE,
                           "%s: can't be written: too many files are open at once; `ulimit -n` says how "
                           "many may be: allow 64 or more", plain);
    return problem_set(why, TC_ERR_WRITE, "%s: can't be written: %s", plain,
                       error == ENXIO ? "nobody reads from this pipe" : strerror(error));
}

static void dispose(struct outfile *o)
{
    if (o->stream) fclose(o->stream);
    if (o->aside) unlink(o->aside);
    if (o->lock >= 0) close(o->lock);
    free(o->aside);
    free(o->path);
    free(o);
}

/* A lock tells the files in work from those of killed runs. False if outfile_sweep
 * came between opening and locking. */
static bool take_lock(struct outfile *o, int fd)
{
    struct stat st;
    if (flock(fd, LOCK_EX | LOCK_NB) && errno == EWOULDBLOCK) return false;
    if (fstat(fd, &st) || st.st_nlink == 0) return false;
    o->lock = fcntl(fd, F_DUPFD_CLOEXEC, 0);
    return true;
}

/* Opens a hidden file that nobody else has, beside the final one; to be read back, too. */
static int open_aside(struct outfile *o)
{
    const char *slash = strrchr(o->path, '/');
    size_t folder = slash ? (size_t)(slash - o->path) + 1 : 0;
    size_t room = folder + 64;
    if (!(o->aside = calloc(1, room))) return -1;
    for (int n = 0; n < NAME_TRIES; n++) {
        snprintf(o->aside, room, "%.*s.thundercue-%ld-%d.part", (int)folder, o->path,
                 (long)getpid(), n);
        int fd = open(o->aside, O_RDWR | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
        if (fd >= 0 && !take_lock(o, fd)) {
            close(fd);
            continue;
        }
        if (fd >= 0 || errno != EEXIST) {
            if (fd < 0) {
                int error = errno;
                free(o->aside);
                o->aside = NULL;
                errno = error;
            }
            return fd;
        }
    }
    free(o->aside);
    o->aside = NULL;
    errno = EBUSY;
    return -1;
}

/* A device, or a pipe that somebody reads from: one without a reader would
 * keep us waiting for good. */
static int open_direct(const char *path)
{
    int fd = open(path, O_WRONLY | O_NONBLOCK | O_CLOEXEC);
    if (fd >= 0) fcntl(fd, F_SETFL, fcntl(fd, F_GETFL) & ~O_NONBLOCK);
    return fd;
}

enum tc_status outfile_open(struct outfile **out, const char *path, bool force,
                            struct tc_problem *why)
{
    *out = NULL;
    struct outfile *o = calloc(1, sizeof *o);
    if (!o || !(o->path = strdup(path))) {
        free(o);
        return problem_say(why, TC_ERR_MEMORY);
    }
    o->force = force;
    o->lock = -1;

    struct stat s;
    int error = 0, fd = -1;
    bool there = stat(path, &s) == 0;
    if (there && S_ISDIR(s.st_mode)) {
        error = EISDIR;
    } else if (there && !S_ISREG(s.st_mode)) {
        fd = open_direct(path);
        if (fd < 0) error = errno;
    } else if (there && !force) {
        error = EEXIST;
    } else {
        fd = open_aside(o);
        if (fd < 0) error = errno;
    }
    if (!error && !(o->stream = fdopen(fd, "w"))) {
        error = errno;
        close(fd);
    }
    if (error) {
        enum tc_status status = fail(o, why, error);
        dispose(o);
        return status;
    }
    setvbuf(o->stream, o->buffer, _IOFBF, sizeof o->buffer);
    *out = o;
    return TC_OK;
}

FILE *outfile_stream(struct outfile *o)
{
    return o->stream;
}

const char *outfile_path(const struct outfile *o)
{
    return o->path;
}

const char *outfile_aside(const struct outfile *o)
{
    return o->aside;
}

/* Gives the hidden file its name. Without force a hard link does it, since
 * that never replaces; where the file system has none, rename must do. */
static int give_name(const struct outfile *o)
{
    if (o->force) return rename(o->aside, o->path) ? errno : 0;
    if (link(o->aside, o->path) == 0) {
        unlink(o->aside); /* if that fails, the next run sweeps it up */
        return 0;
    }
    if (errno == EEXIST) return EEXIST;
    if (access(o->path, F_OK) == 0) return EEXIST;
    return rename(o->aside, o->path) ? errno : 0;
}

/* Why an earlier write failed: the reason was lost by then, but a further byte
 * fails alike. Only for a file that is thrown away. */
static int reason_again(const struct outfile *o)
{
    errno = 0;
    return o->aside && write(fileno(o->stream), "", 1) < 0 && errno ? errno : EIO;
}

enum tc_status outfile_seal(struct outfile *o, struct tc_problem *why)
{
    if (!o->stream) return o->error ? fail(o, why, o->error) : TC_OK;
    errno = 0;
    bool bad = ferror(o->stream) || fflush(o->stream);
    o->error = bad ? (errno ? errno : reason_again(o)) : 0;
    if (!o->error && o->aside && fsync(fileno(o->stream)) && errno != EINVAL && errno != ENOTSUP)
        o->error = errno;
    if (fclose(o->stream) && !o->error) o->error = errno;
    o->stream = NULL;
    return o->error ? fail(o, why, o->error) : TC_OK;
}

enum tc_status outfile_commit(struct outfile *o, struct tc_problem *why)
{
    enum tc_status status = outfile_seal(o, why);
    if (status == TC_OK && o->aside) {
        int error = give_name(o);
        if (error) {
            status = fail(o, why, error);
        } else {
            free(o->aside);
            o->aside = NULL;
        }
    }
    dispose(o);
    return status;
}

void outfile_abandon(struct outfile *o)
{
    if (o) dispose(o);
}

/* ".thundercue-PID-N.part" */
static bool is_aside(const char *name)
{
    long pid = 0;
    int n = 0, used = 0;
    return sscanf(name, ".thundercue-%ld-%d.part%n", &pid, &n, &used) == 2 && used && !name[used] && pid > 0;
}

/* Dead is what nobody has locked. The number of the process says nothing: it
 * is 1 in every container, and another machine's on a shared disk. Where a
 * disk knows no locks, a day must have passed. */
static bool remove_if_dead(int folder, const char *name)
{
    int fd = openat(folder, name, O_RDONLY | O_NOFOLLOW | O_NONBLOCK | O_CLOEXEC);
    if (fd < 0) return false;
    struct stat st;
    bool dead = !fstat(fd, &st) && S_ISREG(st.st_mode);
    if (dead && flock(fd, LOCK_EX | LOCK_NB)) dead = errno != EWOULDBLOCK && time(NULL) - st.st_mtime > DAY_S;
    bool gone = dead && !unlinkat(folder, name, 0);
    close(fd);
    return gone;
}

size_t outfile_sweep(const char *folder)
{
    DIR *dir = opendir(*folder ? folder : ".");
    if (!dir) return 0;
    size_t removed = 0;
    for (struct dirent *entry; (entry = readdir(dir));)
        if (is_aside(entry->d_name)) removed += remove_if_dead(dirfd(dir), entry->d_name);
    closedir(dir);
    return removed;
}
