/* What a long call does with the caller's struct tc_watch; all parts may be NULL. */
#ifndef TC_WATCH_H
#define TC_WATCH_H

#include "thundercue.h"

/* Tells how far the work is, and asks whether to stop: TC_ERR_STOPPED then. */
enum tc_status watch_tell(const struct tc_watch *watch, double share);

#endif
