/* Levels to a light network by ANSI E1.31: one stream a universe, numbered,
 * repeated where nothing changes, and ended in black. light_guard.h sees to it
 * that they end so in any case. */
#ifndef TC_LIGHT_NET_H
#define TC_LIGHT_NET_H

#include "words/model.h"

struct light_net;

struct light_wish {
    const char *to;        /* host or host:port; NULL or empty: each universe's multicast group */
    const char *interface; /* by which multicast leaves: its name or address; NULL or empty: by the system's routes */
    int universe;          /* the first one */
    size_t universes;
    int priority;
    const char *name;      /* of the source, as receivers show it */
};

/* Looks the host up and sends nothing yet. TC_ERR_USAGE for a host or an interface that is not
 * known, TC_ERR_WRITE where there is no network, TC_ERR_MEMORY. */
enum tc_status light_net_open(struct light_net **out, const struct light_wish *wish, struct tc_problem *why);

/* Hands over the levels of all slots (universes * 512) as they are to be now.
 * A universe goes out if it has changed, three more times after that, and then
 * every 0.9 s. Returns true if anything was sent. */
bool light_net_send(struct light_net *n, const uint8_t *slots, double now_s);

/* When something has to go out again even though nothing changes. */
double light_net_due_s(const struct light_net *n);

/* Black, and the three terminated packets of each universe, if anything was sent
 * since the last end; takes 0.1 s. What is sent after it begins the streams anew. */
void light_net_end(struct light_net *n);
/* The same for a signal handler and for another process that has inherited the
 * network: takes no memory and no locks. `at_once` leaves out the time between
 * the packets. */
void light_net_leave_dark(struct light_net *n, bool at_once);
/* Nothing was sent yet, or the end was the last thing. */
bool light_net_ended(const struct light_net *n);

/* Packets sent, and those that the network refused; the last reason. */
struct light_net_count {
    uint64_t sent, failed;
    int reason;            /* errno; 0 = none */
};
struct light_net_count light_net_counts(const struct light_net *n);

/* NULL is fine. Ends it first if that has not been done. */
void light_net_close(struct light_net *n);

#endif
