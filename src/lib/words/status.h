/* The words for what can go wrong, and the one way to fill in a problem. */
#ifndef TC_STATUS_H
#define TC_STATUS_H

#include "thundercue.h"

/* Writes the line into *why (if not NULL), cut to its size, and returns
 * `status`, so that a failing call reads `return problem_set(why, ...)`. */
enum tc_status problem_set(struct tc_problem *why, enum tc_status status, const char *format, ...)
    __attribute__((format(printf, 3, 4)));
/* The same in the status's own words, where they say all. */
enum tc_status problem_say(struct tc_problem *why, enum tc_status status);

#endif
