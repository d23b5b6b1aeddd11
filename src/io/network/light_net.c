#include "io/network/light_net.h"

#include <errno.h>
#include <netdb.h>
#include <netinet/in.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/socket.h>
#include <unistd.h>

#include "io/network/e131.h"
#include "io/network/interface.h"
#include "io/process/clock.h"
#include "words/status.h"
#include "words/text.h"
#include "words/units.h"

enum { REPEATS = 3, TERMINATED_TIMES = 3 };
/* Between the 800 and 1000 ms of the standard (6.6.2). */
#define KEEP_ALIVE_S 0.9
#define APART_S (1.0 / DMX_PACKETS_MOST)
#define ANNOUNCE_S 10.0

/* What the process that keeps watch (light_guard.c) shares with this one: both
 * send the same streams, and number their packets in one row. */
struct streams {
    atomic_bool ended;                /* no receiver has been sent light since the last end */
    atomic_uchar sequence[];          /* by universe: of its next packet */
};
_Static_assert(ATOMIC_BOOL_LOCK_FREE == 2 && ATOMIC_CHAR_LOCK_FREE == 2, "a signal handler may not wait for a lock");

struct universe {
    struct sockaddr_in to;
    uint8_t packet[E131_PACKET_BYTES];
    uint8_t dark[E131_PACKET_BYTES];  /* lies ready */
    int repeats;                      /* still to send though nothing changes */
    double sent_s;
};

struct light_net {
    int socket;
    struct streams *streams;
    size_t count;
    struct universe *universe;
    struct e131_source source;
    struct sockaddr_in announce_to;
    bool multicast;
    uint16_t first;
    double announced_s;
    struct light_net_count counts;
};

/* ---- Who and where ---- */

/* The same on every start of this machine with this show. */
static void make_cid(struct light_net *n, const struct light_wish *wish)
{
    char text[600];
    size_t used = (size_t)snprintf(text, sizeof text, "thundercue/%d/%s/", wish->universe, wish->name);
    if (used > sizeof text - 80) used = sizeof text - 80;
    FILE *in = fopen("/etc/machine-id", "r"); /* shown to nobody: only a digest leaves */
    size_t got = in ? fread(text + used, 1, 64, in) : 0;
    if (in) fclose(in);
    if (!got && !gethostname(text + used, 64)) got = strnlen(text + used, 64);
    e131_cid(n->source.cid, text, used + got);
}

static enum tc_status look_up(const char *to, struct sockaddr_in *out, struct tc_problem *why)
{
    char host[TC_NAME_SIZE], plain[200];
    snprintf(host, sizeof host, "%s", to);
    char *port = strchr(host, ':');
    if (port) *port++ = 0;
    char usual[8];
    snprintf(usual, sizeof usual, "%d", E131_PORT);
    struct addrinfo hints = { .ai_family = AF_INET, .ai_socktype = SOCK_DGRAM }, *found;
    int wrong = getaddrinfo(host, port ? port : usual, &hints, &found);
    if (wrong)
        return problem_set(why, TC_ERR_USAGE, "the light network's host '%s': %s", text_plain(plain, sizeof plain, to),
                           gai_strerror(wrong));
    memcpy(out, found->ai_addr, sizeof *out);
    freeaddrinfo(found);
    return TC_OK;
}

static struct sockaddr_in group(uint16_t universe)
{
    return (struct sockaddr_in){ .sin_family = AF_INET, .sin_port = htons(E131_PORT),
                                 .sin_addr.s_addr = htonl(e131_group(universe)) };
}

static enum tc_status choose_interface(struct light_net *n, const char *which, struct tc_problem *why)
{
    if (!which || !*which) return TC_OK;
    char plain[80];
    text_plain(plain, sizeof plain, which);
    if (!n->multicast)
        return problem_set(why, TC_ERR_USAGE,
                           "the interface '%s' is for multicast; what goes to one host takes the system's routes",
                           plain);
    struct ip_mreqn by = { .imr_multiaddr.s_addr = htonl(INADDR_ANY) };
    enum tc_status status = interface_find(which, &by.imr_ifindex, why);
    if (status != TC_OK || !setsockopt(n->socket, IPPROTO_IP, IP_MULTICAST_IF, &by, sizeof by)) return status;
    return problem_set(why, TC_ERR_WRITE, "multicast can't leave by '%s': %s", plain, strerror(errno));
}

static size_t streams_size(const struct light_net *n)
{
    return sizeof *n->streams + n->count * sizeof *n->streams->sequence;
}

enum tc_status light_net_open(struct light_net **out, const struct light_wish *wish, struct tc_problem *why)
{
    *out = NULL;
    static const uint8_t black[E131_SLOTS];
    struct light_net *n = calloc(1, sizeof *n);
    if (!n) return problem_say(why, TC_ERR_MEMORY);
    n->count = wish->universes;
    n->streams = mmap(NULL, streams_size(n), PROT_READ | PROT_WRITE, MAP_SHARED | MAP_ANONYMOUS, -1, 0);
    if (n->streams == MAP_FAILED) n->streams = NULL;
    else n->streams->ended = true; /* nothing to end before the first packet */
    n->first = (uint16_t)wish->universe;
    n->source.priority = (uint8_t)wish->priority;
    e131_name(n->source.name, wish->name);
    make_cid(n, wish);
    n->multicast = !wish->to || !*wish->to;
    n->announce_to = group(E131_DISCOVERY_UNIVERSE);
    n->announced_s = -ANNOUNCE_S;
    struct sockaddr_in to;
    enum tc_status status = n->multicast ? TC_OK : look_up(wish->to, &to, why);
    n->socket = socket(AF_INET, SOCK_DGRAM | SOCK_CLOEXEC, 0);
    n->universe = calloc(n->count, sizeof *n->universe);
    if (status == TC_OK && n->socket < 0)
        status = problem_set(why, TC_ERR_WRITE, "there is no network: %s", strerror(errno));
    if (status == TC_OK) status = choose_interface(n, wish->interface, why);
    if (status == TC_OK && (!n->universe || !n->streams))
        status = problem_say(why, TC_ERR_MEMORY);
    if (status != TC_OK) {
        light_net_close(n);
        return status;
    }
    for (size_t i = 0; i < n->count; i++) {
        struct universe *u = &n->universe[i];
        uint16_t number = (uint16_t)(n->first + i);
        u->to = n->multicast ? group(number) : to;
        u->repeats = REPEATS + 1;
        e131_data(u->packet, &n->source, number, 0, 0, black, E131_SLOTS);
        memcpy(u->dark, u->packet, sizeof u->dark);
    }
    *out = n;
    return TC_OK;
}

/* ---- Packets ---- */

static void send_one(struct light_net *n, struct universe *u, uint8_t *packet)
{
    packet[E131_SEQUENCE_AT] = atomic_fetch_add(&n->streams->sequence[u - n->universe], 1);
    ssize_t sent = sendto(n->socket, packet, E131_PACKET_BYTES, MSG_DONTWAIT, (const struct sockaddr *)&u->to,
                          sizeof u->to);
    if (sent == E131_PACKET_BYTES) {
        n->counts.sent++;
    } else {
        n->counts.failed++;
        n->counts.reason = errno;
    }
}

static void announce(struct light_net *n, double now_s)
{
    if (!n->multicast || now_s - n->announced_s < ANNOUNCE_S) return;
    uint8_t packet[E131_DISCOVERY_BYTES];
    size_t size = e131_discovery(packet, &n->source, n->first, n->count);
    n->announced_s = now_s;
    if (sendto(n->socket, packet, size, MSG_DONTWAIT, (const struct sockaddr *)&n->announce_to,
               sizeof n->announce_to) < 0)
        n->counts.reason = errno;
}

bool light_net_send(struct light_net *n, const uint8_t *slots, double now_s)
{
    bool any = false;
    n->streams->ended = false;
    for (size_t i = 0; i < n->count; i++) {
        struct universe *u = &n->universe[i];
        uint8_t *levels = u->packet + E131_HEAD_BYTES;
        if (memcmp(levels, slots + i * E131_SLOTS, E131_SLOTS)) {
            memcpy(levels, slots + i * E131_SLOTS, E131_SLOTS);
            u->repeats = REPEATS + 1;
        }
        if (!u->repeats && now_s - u->sent_s < KEEP_ALIVE_S) continue;
        if (u->repeats) u->repeats--;
        u->sent_s = now_s;
        send_one(n, u, u->packet);
        any = true;
    }
    n->streams->ended = false; /* once more: it may have been ended from elsewhere amid these packets */
    announce(n, now_s);
    return any;
}

double light_net_due_s(const struct light_net *n)
{
    double due = n->universe[0].sent_s;
    for (size_t i = 1; i < n->count; i++)
        if (n->universe[i].sent_s < due) due = n->universe[i].sent_s;
    return due + KEEP_ALIVE_S;
}

struct light_net_count light_net_counts(const struct light_net *n)
{
    return n->counts;
}

/* ---- The end ---- */

void light_net_leave_dark(struct light_net *n, bool at_once)
{
    if (n->streams->ended) return;
    for (int turn = 0; turn <= TERMINATED_TIMES; turn++) {
        if (turn && n->streams->ended) return; /* the other process has done it meanwhile */
        if (turn && !at_once) {
            double until = clock_now_s() + APART_S;
            while (clock_now_s() < until) clock_sleep_until(until); /* a signal may wake it */
        }
        for (size_t i = 0; i < n->count; i++) {
            n->universe[i].dark[E131_OPTIONS_AT] = turn ? E131_TERMINATED : 0;
            send_one(n, &n->universe[i], n->universe[i].dark);
        }
    }
    n->streams->ended = true;
}

void light_net_end(struct light_net *n)
{
    light_net_leave_dark(n, false);
}

bool light_net_ended(const struct light_net *n)
{
    return n->streams->ended;
}

void light_net_close(struct light_net *n)
{
    if (!n) return;
    if (n->universe && n->streams) light_net_end(n);
    if (n->socket >= 0) close(n->socket);
    if (n->streams) munmap(n->streams, streams_size(n));
    free(n->universe);
    free(n);
}
