#include "io/network/interface.h"

#include <arpa/inet.h>
#include <errno.h>
#include <ifaddrs.h>
#include <net/if.h>
#include <netinet/in.h>
#include <stdio.h>
#include <string.h>

#include "words/status.h"
#include "words/text.h"

enum tc_status interface_list(void (*tell)(void *user, const char *name, const char *address), void *user,
                              struct tc_problem *why)
{
    struct ifaddrs *all;
    if (getifaddrs(&all))
        return problem_set(why, TC_ERR_WRITE, "the network's interfaces can't be listed: %s", strerror(errno));
    for (const struct ifaddrs *i = all; i; i = i->ifa_next) {
        char address[INET_ADDRSTRLEN];
        struct sockaddr_in at;
        if (!i->ifa_addr || i->ifa_addr->sa_family != AF_INET) continue;
        memcpy(&at, i->ifa_addr, sizeof at);
        if (inet_ntop(AF_INET, &at.sin_addr, address, sizeof address)) tell(user, i->ifa_name, address);
    }
    freeifaddrs(all);
    return TC_OK;
}

struct search {
    const char *which;
    char found[IF_NAMESIZE];
    char all[240];           /* "lo (127.0.0.1), eth0 (192.0.2.7)" */
    size_t used;
};

static void look(void *user, const char *name, const char *address)
{
    struct search *s = user;
    if (!strcmp(s->which, name) || !strcmp(s->which, address)) snprintf(s->found, sizeof s->found, "%s", name);
    if (s->used >= sizeof s->all) return;
    int n = snprintf(s->all + s->used, sizeof s->all - s->used, "%s%s (%s)", s->used ? ", " : "", name, address);
    s->used += n > 0 ? (size_t)n : 0;
}

enum tc_status interface_find(const char *which, int *index, struct tc_problem *why)
{
    char plain[80];
    struct search s = { .which = which };
    enum tc_status status = interface_list(look, &s, why);
    if (status != TC_OK) return status;
    *index = *s.found ? (int)if_nametoindex(s.found) : 0;
    if (*index) return TC_OK;
    return problem_set(why, TC_ERR_USAGE, "no network interface is called '%s': %s%s",
                       text_plain(plain, sizeof plain, which),
                       *s.all ? "choose from " : "there is none with an IPv4 address", s.all);
}
