/* The moments of all clips of an evening put together. */
#ifndef TC_NIGHT_JOIN_H
#define TC_NIGHT_JOIN_H

#include "app/night/night_job.h"

/* The moments of all turns, as if they had been one recording of this length.
 * TC_ERR_MEMORY; then *all is empty. */
enum tc_status night_join(const struct night_outcome *o, const struct tc_settings *s, double rate,
                          struct tc_analysis *all);

#endif
