#include "io/process/child.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <pthread.h>
#include <signal.h>
#include <stdbool.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/types.h>
#include <sys/wait.h>
#include <unistd.h>

#include "io/process/stop.h"
#include "words/status.h"
#include "words/text.h"

/* The address and the thread sanitizer don't free the locks on their memory in a
 * child: with them, no other thread may be at work when one is forked. */
#ifdef __has_feature
#define SANITIZER_LOCKS (__has_feature(address_sanitizer) || __has_feature(thread_sanitizer))
#elif defined __SANITIZE_ADDRESS__ || defined __SANITIZE_THREAD__
#define SANITIZER_LOCKS 1
#else
#define SANITIZER_LOCKS 0
#endif

enum { PAUSE_US = 10000, TICK_MS = 50, OWN_FILES = 24, FILES_EACH = 2, ENOUGH = 1 << 16 };

/* Address space for this process and one child's work, and for each worker's thread. */
#define OWN_SPACE ((rlim_t)32 << 20)
#define SPACE_EACH ((rlim_t)4 << 20)

/* Children are forked from the threads of a pool and don't call exec. POSIX
 * leaves such a child only what signal handlers may call; a task needs memory,
 * streams and libsndfile besides. That holds with glibc, whose fork takes over
 * the locks of its memory and streams and makes them free in the child, and as
 * long as no thread here holds a lock of another library at that time: what
 * runs beside the forks opens no sound.
 *
 * A task that runs in this process may hold a lock of some library, and a child
 * that was forked meanwhile would wait for it for ever. */
static pthread_mutex_t no_forks = PTHREAD_MUTEX_INITIALIZER;

static void close_all_but(int one, int other)
{
    int low = one < other ? one : other, high = one < other ? other : one;
    if (low < 3) low = high;
    if (low > 3) close_range(3, (unsigned)low - 1, 0);
    if (high > low + 1) close_range((unsigned)low + 1, (unsigned)high - 1, 0);
    close_range((unsigned)high + 1, ~0u, 0);
}

_Noreturn static void be_child(void (*task)(void *, void *), void *user, void *answer, size_t size, int to, int keep,
                               pid_t parent)
{
    sigset_t none;
    prctl(PR_SET_PDEATHSIG, SIGKILL); /* nobody would take the answer */
    if (getppid() != parent) _exit(1);
    close_all_but(to, keep);
    stop_watch_patiently();
    sigemptyset(&none);
    sigprocmask(SIG_SETMASK, &none, NULL);
    task(user, answer);
    _exit(write(to, answer, size) == (ssize_t)size ? 0 : 1);
}

/* Reads until the child has closed its end. */
static size_t take_answer(int from, void *answer, size_t size, pid_t child)
{
    size_t got = 0;
    bool told = false;
    for (;;) {
        struct pollfd wait = { .fd = from, .events = POLLIN };
        int ready = poll(&wait, 1, TICK_MS);
        if (stop_asked() && !told) {
            kill(child, stop_signal());
            told = true;
        }
        if (ready == 0 || (ready < 0 && errno == EINTR)) continue;
        ssize_t n = read(from, (char *)answer + got, size - got);
        if (n < 0 && errno == EINTR) continue;
        if (n <= 0) return got;
        got += (size_t)n;
        if (got == size) return got;
    }
}

/* A pipe and a process; -1 if there are none to be had. */
static pid_t start(int ends[2], const atomic_int *running)
{
    for (;;) {
        if (!pipe2(ends, O_CLOEXEC)) {
            pthread_mutex_lock(&no_forks);
            pid_t child = fork();
            if (child != 0) pthread_mutex_unlock(&no_forks);
            if (child >= 0) return child;
            close(ends[0]);
            close(ends[1]);
        }
        if (*running == 0 || stop_asked()) return -1;
        usleep(PAUSE_US);
    }
}

enum child_end child_run(void (*task)(void *user, void *answer), void *user, void *answer, size_t size, int keep,
                         atomic_int *running, int *how)
{
    int ends[2], status = 0;
    pid_t parent = getpid(), child = start(ends, running);
    *how = 0;
    if (child < 0) {
        pthread_mutex_lock(&no_forks);
        task(user, answer);
        pthread_mutex_unlock(&no_forks);
        return CHILD_ANSWERED;
    }
    if (child == 0) be_child(task, user, answer, size, ends[1], keep, parent);
    ++*running;
    close(ends[1]);
    size_t got = take_answer(ends[0], answer, size, child);
    close(ends[0]);
    while (waitpid(child, &status, 0) < 0 && errno == EINTR) continue;
    --*running;
    if (WIFSIGNALED(status)) *how = WTERMSIG(status);
    else *how = WEXITSTATUS(status);
    return got == size ? CHILD_ANSWERED : WIFSIGNALED(status) ? CHILD_SIGNALLED : CHILD_EXITED;
}

void child_say(enum child_end end, int how, const char *path, const char *doing, const char *others,
               struct tc_problem *to)
{
    char plain[512];
    text_plain(plain, sizeof plain, path);
    if (end == CHILD_SIGNALLED && how == SIGKILL)
        problem_set(to, TC_OK, "%s: was ended while at work, perhaps for want of memory", plain);
    else if (end == CHILD_SIGNALLED)
        problem_set(to, TC_OK, "%s: %s it crashed (%s); the other %s are not touched by that", plain, doing,
                    strsignal(how), others);
    else problem_set(to, TC_OK, "%s: %s it ended too early (exit status %d)", plain, doing, how);
}

static size_t room_in_files(void)
{
    struct rlimit limit;
    if (getrlimit(RLIMIT_NOFILE, &limit) || limit.rlim_cur > ENOUGH) return ENOUGH;
    size_t files = (size_t)limit.rlim_cur;
    return files > OWN_FILES + FILES_EACH ? (files - OWN_FILES) / FILES_EACH : 1;
}

static size_t room_in_memory(void)
{
    struct rlimit limit;
    if (getrlimit(RLIMIT_AS, &limit) || limit.rlim_cur >= OWN_SPACE + ENOUGH * SPACE_EACH) return ENOUGH;
    return limit.rlim_cur > OWN_SPACE ? (size_t)((limit.rlim_cur - OWN_SPACE) / SPACE_EACH) : 0;
}

size_t child_room(void)
{
    size_t files = room_in_files(), memory = SANITIZER_LOCKS ? 0 : room_in_memory();
    return memory < files ? memory : files;
}
