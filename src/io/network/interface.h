/* The machine's network interfaces with an IPv4 address, over which multicast
 * can leave it. */
#ifndef TC_INTERFACE_H
#define TC_INTERFACE_H

#include "words/model.h"

/* The index of the one with this name or IPv4 address. TC_ERR_USAGE if there is
 * none, with those there are. */
enum tc_status interface_find(const char *which, int *index, struct tc_problem *why);

/* Tells of every one. TC_ERR_WRITE where the system doesn't say. */
enum tc_status interface_list(void (*tell)(void *user, const char *name, const char *address), void *user,
                              struct tc_problem *why);

#endif
