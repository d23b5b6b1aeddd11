/* Every way out is dark: programs that send light to a receiver here on this
 * machine end in all the ways there are, and what was received last is judged
 * (ANSI E1.31-2018: options in octet 112, slots from octet 126). Nothing here
 * depends on how fast the machine is. */
#include "check.h"

#include <arpa/inet.h>
#include <poll.h>
#include <signal.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "io/network/light_guard.h"
#include "io/process/clock.h"

enum { UNIVERSES = 2, SLOTS = 512 * UNIVERSES, PACKET = 638, LIT = 200, AFTER = 7, PATIENCE_MS = 20000 };

struct receiver {
    int socket;
    char to[40];
    int sequence[UNIVERSES];           /* of the last packet; -1: none yet */
    int level[UNIVERSES];              /* of its first slot */
    int ended[UNIVERSES];              /* terminated packets in a row */
    int wrong;                         /* packets out of order, or lit and terminated */
};

static struct receiver receive(void)
{
    struct receiver r = { .socket = socket(AF_INET, SOCK_DGRAM | SOCK_CLOEXEC, 0), .sequence = { -1, -1 } };
    struct sockaddr_in at = { .sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK) };
    socklen_t size = sizeof at;
    assert_true(r.socket >= 0 && !bind(r.socket, (struct sockaddr *)&at, sizeof at));
    assert_int_equal(getsockname(r.socket, (struct sockaddr *)&at, &size), 0);
    snprintf(r.to, sizeof r.to, "127.0.0.1:%d", ntohs(at.sin_port));
    return r;
}

/* One more packet; false if none came for a long time. */
static bool take(struct receiver *r)
{
    unsigned char p[PACKET + 1];
    struct pollfd wait = { .fd = r->socket, .events = POLLIN };
    if (poll(&wait, 1, PATIENCE_MS) <= 0) return false;
    assert_int_equal(recv(r->socket, p, sizeof p, 0), PACKET);
    int u = p[114] - 1;
    assert_in_range(u, 0, UNIVERSES - 1);
    r->wrong += r->sequence[u] >= 0 && p[111] != (r->sequence[u] + 1) % 256;
    r->sequence[u] = p[111];
    bool ended = p[112] & 0x40;
    r->ended[u] = ended ? r->ended[u] + 1 : 0;
    r->level[u] = p[126];
    for (int i = 126; i < PACKET; i++) r->wrong += ended && p[i];
    return true;
}

static bool all_ended(const struct receiver *r)
{
    return r->ended[0] >= 3 && r->ended[1] >= 3;
}

static bool all_at(const struct receiver *r, int level)
{
    return r->level[0] == level && r->level[1] == level && !r->ended[0] && !r->ended[1];
}

/* ---- The programs ---- */

static uint8_t slots[SLOTS];

static struct light_net *begin(const char *to)
{
    struct light_net *n;
    struct light_wish wish = { .to = to, .universe = 1, .universes = UNIVERSES, .priority = 100, .name = "guard" };
    if (light_net_open(&n, &wish, NULL) != TC_OK || light_guard_begin(n, NULL, NULL) != TC_OK) _exit(9);
    return n;
}

/* Steady light; `turns` beats of the heart. */
static void shine(struct light_net *n, int level, int turns)
{
    memset(slots, level, sizeof slots);
    for (int i = 0; i < turns; i++) {
        double now = clock_now_s();
        light_guard_beat(now);
        light_net_send(n, slots, now);
        clock_sleep_until(now + 0.01);
    }
}

static void do_end(struct light_net *n)
{
    light_net_end(n);
    light_guard_end();
    light_net_close(n);
}
static void do_abort(struct light_net *n) { (void)n; abort(); }
static void do_segv(struct light_net *n) { (void)n; raise(SIGSEGV); }
static void do_kill(struct light_net *n) { (void)n; raise(SIGKILL); }
static void do_quit(struct light_net *n) { (void)n; raise(SIGQUIT); }
static void do_exit(struct light_net *n) { (void)n; _exit(3); } /* as a library might */
static void do_forget(struct light_net *n) { (void)n; }         /* returns without an end */
static void do_term_twice(struct light_net *n)
{
    (void)n;
    raise(SIGTERM);
    if (light_guard_signal() == SIGTERM) raise(SIGTERM);
}
static void do_hang(struct light_net *n) { (void)n; for (;;) pause(); } /* the heart stands still; ended by the test */
static void do_spin(struct light_net *n)
{
    (void)n;
    for (volatile unsigned i = 0;; i++) continue;
}

static const struct {
    const char *name;
    void (*end)(struct light_net *n);
    int signal;                        /* that ends it; 0: it exits */
    bool hangs;
} ways[] = {
    { "an end",       do_end,        0,       false },
    { "an abort",     do_abort,      SIGABRT, false },
    { "a crash",      do_segv,       SIGSEGV, false },
    { "a kill",       do_kill,       SIGKILL, false },
    { "a quit",       do_quit,       SIGQUIT, false },
    { "an exit",      do_exit,       0,       false },
    { "no end",       do_forget,     0,       false },
    { "SIGTERM twice", do_term_twice, SIGTERM, false },
    { "a hang",       do_hang,       SIGKILL, true },
    { "a loop",       do_spin,       SIGKILL, true },
};

static void every_way_out_is_dark(void **state)
{
    (void)state;
    for (size_t w = 0; w < COUNT(ways); w++) {
        struct receiver r = receive();
        pid_t player = fork();
        if (player == 0) {
            struct light_net *n = begin(r.to);
            shine(n, LIT, 5);
            ways[w].end(n);
            _exit(0);
        }
        assert_true(player > 0);
        while (!all_at(&r, LIT))
            if (!take(&r)) fail_msg("%s: never lit", ways[w].name);
        while (!all_ended(&r))
            if (!take(&r)) fail_msg("%s: the streams do not end", ways[w].name);
        if (ways[w].hangs) kill(player, SIGKILL);
        int how = 0;
        assert_int_equal(waitpid(player, &how, 0), player);
        if (ways[w].signal ? !WIFSIGNALED(how) || WTERMSIG(how) != ways[w].signal : !WIFEXITED(how))
            fail_msg("%s: ended otherwise (%x)", ways[w].name, (unsigned)how);
        if (r.wrong) fail_msg("%s: %d packets out of order or lit at the end", ways[w].name, r.wrong);
        close(r.socket);
    }
}

static volatile sig_atomic_t continued;

static void note_going_on(int number)
{
    (void)number;
    continued = 1;
}

/* Stopped, it is dark; when it goes on it is told, and may send again. */
static void a_program_that_was_stopped_is_told(void **state)
{
    (void)state;
    struct receiver r = receive();
    pid_t player = fork();
    if (player == 0) {
        struct light_net *n = begin(r.to);
        bool told = false;
        signal(SIGCONT, note_going_on);
        memset(slots, LIT, sizeof slots);
        while (!told) {
            double now = clock_now_s();
            told = light_guard_beat(now) && continued; /* on a busy machine it may be told before */
            if (!told) light_net_send(n, slots, now);
            clock_sleep_until(now + 0.01);
        }
        shine(n, AFTER, 5);
        do_end(n);
        _exit(0);
    }
    while (!all_at(&r, LIT)) assert_true(take(&r));
    kill(player, SIGSTOP);
    while (!all_ended(&r)) assert_true(take(&r));
    kill(player, SIGCONT);
    while (!all_at(&r, AFTER)) assert_true(take(&r));
    while (!all_ended(&r)) assert_true(take(&r));
    int how = 0;
    assert_int_equal(waitpid(player, &how, 0), player);
    assert_true(WIFEXITED(how) && WEXITSTATUS(how) == 0);
    assert_int_equal(r.wrong, 0);
    close(r.socket);
}

/* Nothing was sent: there is nothing to end, and nobody is told of a source that never was. */
static void nothing_is_sent_by_one_that_never_lit(void **state)
{
    (void)state;
    struct receiver r = receive();
    pid_t player = fork();
    if (player == 0) {
        begin(r.to);
        raise(SIGKILL);
    }
    int how;
    assert_int_equal(waitpid(player, &how, 0), player);
    nanosleep(&(struct timespec){ .tv_nsec = 100000000 }, NULL);
    unsigned char any[PACKET];
    assert_true(recv(r.socket, any, sizeof any, MSG_DONTWAIT) < 0);
    close(r.socket);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_way_out_is_dark),
        cmocka_unit_test(a_program_that_was_stopped_is_told),
        cmocka_unit_test(nothing_is_sent_by_one_that_never_lit),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
