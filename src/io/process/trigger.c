#include "io/process/trigger.h"

#include <arpa/inet.h>
#include <errno.h>
#include <netinet/in.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <unistd.h>

#include "words/numbers.h"
#include "words/status.h"
#include "words/text.h"

struct trigger {
    struct terminal *keys;   /* NULL: not by key */
    int socket;              /* -1: not by datagram */
    const char *path;        /* NULL: not by file */
    struct stat seen;        /* the file as it was; all zero: not there */
};

static void look(const char *path, struct stat *to)
{
    if (stat(path, to)) memset(to, 0, sizeof *to);
}

static enum tc_status bind_port(struct trigger *t, const char *where, struct tc_problem *why)
{
    char address[64], plain[80];
    const char *colon = strrchr(where, ':');
    int64_t port;
    struct sockaddr_in at = { .sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_ANY) };
    snprintf(address, sizeof address, "%.*s", colon ? (int)(colon - where) : 0, where);
    if (!number_read_whole(colon ? colon + 1 : where, &port) || port < 1 || port > 65535
        || (colon && inet_pton(AF_INET, address, &at.sin_addr) != 1))
        return problem_set(why, TC_ERR_USAGE, "trigger: '%s' is not a port from 1 to 65535, or ADDRESS:PORT",
                           text_plain(plain, sizeof plain, where));
    at.sin_port = htons((uint16_t)port);
    t->socket = socket(AF_INET, SOCK_DGRAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0);
    if (t->socket < 0 || bind(t->socket, (const struct sockaddr *)&at, sizeof at))
        return problem_set(why, TC_ERR_USAGE, "trigger: port %lld can't be listened to: %s", (long long)port,
                           strerror(errno));
    return TC_OK;
}

enum tc_status trigger_open(struct trigger **out, const char *form, struct terminal *keys, struct tc_problem *why)
{
    *out = NULL;
    char plain[80];
    struct trigger *t = calloc(1, sizeof *t);
    if (!t) return problem_say(why, TC_ERR_MEMORY);
    t->socket = -1;
    enum tc_status status = TC_OK;
    if (!strcmp(form, "key")) {
        t->keys = keys;
        if (!terminal_has_keys(keys))
            status = problem_set(why, TC_ERR_USAGE,
                                 "trigger: standard input is no terminal: there are no keys to press");
    } else if (!strncmp(form, "udp:", 4)) {
        status = bind_port(t, form + 4, why);
    } else if (!strncmp(form, "file:", 5) && form[5]) {
        t->path = form + 5;
        look(t->path, &t->seen);
    } else {
        status = problem_set(why, TC_ERR_USAGE, "trigger: '%s' is not key, udp:PORT or file:PATH",
                             text_plain(plain, sizeof plain, form));
    }
    if (status == TC_OK) *out = t;
    else trigger_close(t);
    return status;
}

static bool file_touched(struct trigger *t)
{
    struct stat now;
    look(t->path, &now);
    bool new = now.st_nlink && (now.st_ino != t->seen.st_ino || now.st_mtim.tv_sec != t->seen.st_mtim.tv_sec
                                || now.st_mtim.tv_nsec != t->seen.st_mtim.tv_nsec);
    t->seen = now;
    return new;
}

bool trigger_pulled(struct trigger *t)
{
    bool pulled = false;
    char any[16];
    if (t->keys)
        while (terminal_key(t->keys)) pulled = true;
    if (t->socket >= 0)
        while (recv(t->socket, any, sizeof any, MSG_DONTWAIT) >= 0) pulled = true;
    return t->path ? file_touched(t) : pulled;
}

void trigger_close(struct trigger *t)
{
    if (!t) return;
    if (t->socket >= 0) close(t->socket);
    free(t);
}
