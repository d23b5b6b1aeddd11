/* How much a suite tries. The sanitizers' builds are slow and do less
 * (TC_QUICK=1), `make soak` does more (THUNDERCUE_CASES=N). */
#ifndef TC_TESTS_CASES_H
#define TC_TESTS_CASES_H

#include <stdbool.h>
#include <stdlib.h>

static inline bool quick(void)
{
    const char *said = getenv("TC_QUICK");
    return said && *said == '1';
}

/* Of what draws at random. */
static inline int cases(int usual, int when_quick)
{
    const char *wanted = getenv("THUNDERCUE_CASES");
    int n = wanted ? atoi(wanted) : 0;
    return n > 0 ? n : quick() ? when_quick : usual;
}

#endif
