#include "io/network/light_guard.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <stdatomic.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/prctl.h>
#include <sys/wait.h>
#include <unistd.h>

#include "io/process/clock.h"
#include "words/status.h"
#include "words/units.h"

/* The heart beats every 20 ms. Black is out within 250 ms of its standing still. */
#define STILL_S 0.19
enum { LOOK_MS = 10 };

/* Between the program and its keeper. */
struct heartbeat {
    atomic_llong beat_us;    /* 0: not yet */
    atomic_uint darkened;    /* how often the keeper has sent black */
};
_Static_assert(ATOMIC_LLONG_LOCK_FREE == 2 && ATOMIC_INT_LOCK_FREE == 2, "two processes share no lock");

static struct {
    struct light_net *_Atomic net;     /* what signal handlers reach: this, */
    void (*_Atomic last)(void);        /* this, */
    atomic_int asked;                  /* and this */
    struct heartbeat *heart;
    unsigned darkened_before;
    pid_t keeper;
    int lifeline;                      /* closes with the program, however that ends; 0: none */
    _Alignas(16) uint8_t stack[1 << 14]; /* for a handler after the usual one ran over */
} guard;

/* ---- Signals ---- */

static void end_by(int number)
{
    struct light_net *n = atomic_exchange(&guard.net, NULL);
    if (n) light_net_leave_dark(n, true);
    void (*last)(void) = guard.last;
    if (last) last();
    signal(number, SIG_DFL);
    raise(number); /* blocked in here: it ends the program when the handler returns */
}

static void ask_once(int number)
{
    int none = 0;
    if (!atomic_compare_exchange_strong(&guard.asked, &none, number)) end_by(number);
}

static void catch_signal(int number, void (*by)(int))
{
    struct sigaction action;
    memset(&action, 0, sizeof action);
    action.sa_handler = by;
    sigfillset(&action.sa_mask); /* no other signal amid the packets of the end */
    action.sa_flags = (int)SA_ONSTACK;
    sigaction(number, &action, NULL);
}

static const int asking[] = { SIGINT, SIGTERM, SIGHUP };
static const int fatal[] = { SIGSEGV, SIGBUS, SIGFPE, SIGILL, SIGABRT, SIGSYS, SIGQUIT, SIGXCPU, SIGALRM,
                             SIGVTALRM, SIGPROF, SIGUSR1, SIGUSR2 };
static const int ignored[] = { SIGTSTP, SIGTTIN, SIGTTOU, SIGPIPE, SIGXFSZ };
enum { ASKING = sizeof asking / sizeof *asking, FATAL = sizeof fatal / sizeof *fatal,
       IGNORED = sizeof ignored / sizeof *ignored };

static void catch_signals(void)
{
    stack_t stack = { .ss_sp = guard.stack, .ss_size = sizeof guard.stack };
    sigaltstack(&stack, NULL);
    for (size_t i = 0; i < ASKING; i++) catch_signal(asking[i], ask_once);
    for (size_t i = 0; i < FATAL; i++) catch_signal(fatal[i], end_by);
    for (size_t i = 0; i < IGNORED; i++) signal(ignored[i], SIG_IGN);
}

/* ---- The keeper ---- */

/* A terminal sends its signals to both processes, and so may a user or a
 * service manager: they end the program, and the program's end is what ends the
 * keeper. */
static void be_deaf(void)
{
    static const int crashes[] = { SIGSEGV, SIGBUS, SIGFPE, SIGILL, SIGABRT, SIGSYS };
    for (size_t i = 0; i < ASKING; i++) signal(asking[i], SIG_IGN);
    for (size_t i = 0; i < FATAL; i++) signal(fatal[i], SIG_IGN);
    for (size_t i = 0; i < IGNORED; i++) signal(ignored[i], SIG_IGN);
    for (size_t i = 0; i < sizeof crashes / sizeof *crashes; i++) signal(crashes[i], SIG_DFL);
}

/* Nobody waits for more output from a program that is gone. Standard input stays:
 * the terminal's keys may have to be given back. */
static void be_mute(void)
{
    int nowhere = open("/dev/null", O_RDWR | O_CLOEXEC);
    if (nowhere < 0) return;
    dup2(nowhere, STDOUT_FILENO);
    dup2(nowhere, STDERR_FILENO);
    close(nowhere);
}

static bool is_still(long long beat_us)
{
    return beat_us && (long long)(clock_now_s() * SECOND_US) - beat_us > (long long)(STILL_S * SECOND_US);
}

_Noreturn static void keep(struct light_net *n, int line, void (*last)(void))
{
    be_deaf();
    be_mute();
    prctl(PR_SET_NAME, "dark-keeper"); /* so that one who kills the program by its name leaves the keeper */
    clock_hurry(true);
    bool doubt = false; /* a second look, for where the whole machine stood still and the heart beats again at once */
    for (;;) {
        struct pollfd wait = { .fd = line, .events = POLLIN };
        if (poll(&wait, 1, LOOK_MS) > 0) break;
        bool still = is_still(guard.heart->beat_us) && !light_net_ended(n);
        if (still && doubt) {
            light_net_leave_dark(n, true); /* the packets of the end within those 250 ms, too */
            guard.heart->darkened++;
        }
        doubt = still;
    }
    if (!light_net_ended(n) && last) last(); /* takes no time, and a shell may soon look at its terminal */
    light_net_leave_dark(n, false);
    _exit(0);
}

static bool start_keeper(struct light_net *n, void (*last)(void))
{
    int ends[2];
    if (pipe2(ends, O_CLOEXEC)) return false;
    guard.keeper = fork();
    if (guard.keeper == 0) {
        close(ends[1]);
        keep(n, ends[0], last);
    }
    int reason = errno;
    close(ends[0]);
    guard.lifeline = ends[1];
    errno = reason;
    return guard.keeper > 0;
}

/* ---- Calls ---- */

enum tc_status light_guard_begin(struct light_net *n, void (*last)(void), struct tc_problem *why)
{
    void *shared = mmap(NULL, sizeof *guard.heart, PROT_READ | PROT_WRITE, MAP_SHARED | MAP_ANONYMOUS, -1, 0);
    guard.heart = shared == MAP_FAILED ? NULL : shared;
    guard.darkened_before = 0;
    if (!guard.heart || !start_keeper(n, last)) {
        int reason = errno;
        light_guard_end();
        return problem_set(why, TC_ERR_WRITE,
                           "no second process can be started, which would leave the lamps dark after a crash: %s",
                           strerror(reason));
    }
    guard.net = n;
    guard.last = last;
    catch_signals();
    return TC_OK;
}

bool light_guard_beat(double now_s)
{
    guard.heart->beat_us = (long long)(now_s * SECOND_US);
    unsigned darkened = guard.heart->darkened;
    bool more = darkened != guard.darkened_before;
    guard.darkened_before = darkened;
    return more;
}

int light_guard_signal(void)
{
    return guard.asked;
}

void light_guard_end(void)
{
    guard.net = NULL;
    if (guard.lifeline) close(guard.lifeline);
    guard.lifeline = 0;
    while (guard.keeper > 0 && waitpid(guard.keeper, NULL, 0) < 0 && errno == EINTR) continue;
    guard.keeper = 0;
    if (guard.heart) munmap(guard.heart, sizeof *guard.heart);
    guard.heart = NULL;
}
