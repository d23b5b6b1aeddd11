/* Rigs that a stranger passed in: a program may have filled one in by hand.
 * What a rig file gives, and the built-in one, are always fine. */
#ifndef TC_RIG_CHECK_H
#define TC_RIG_CHECK_H

#include "thundercue.h"

/* TC_ERR_RIG with *why unless every number, name and index is what
 * thundercue.h says. */
enum tc_status rig_check(const struct tc_rig *rig, struct tc_problem *why);

#endif
