/* What every suite needs: cmocka with its prerequisites, and a few helpers. */
#ifndef TC_TESTS_CHECK_H
#define TC_TESTS_CHECK_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define COUNT(table) (sizeof(table) / sizeof *(table))

/* Fails, saying both numbers, unless they are within `tolerance`. */
#define assert_near(got, want, tolerance)                                                     \
    do {                                                                                      \
        double got_ = (got), want_ = (want);                                                  \
        if (!(fabs(got_ - want_) <= (tolerance)))                                             \
            fail_msg("%s is %.9g, expected %.9g +- %g", #got, got_, want_, (double)(tolerance)); \
    } while (0)

#endif
