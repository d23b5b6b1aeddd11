/* Where the headers of rarer sound files say that the sound ends. libsndfile
 * reads what is there and tells nobody that some is missing; for the kinds with
 * chunks, container.c looks. */
#ifndef TC_DECLARED_END_H
#define TC_DECLARED_END_H

#include <stdint.h>
#include <stdio.h>

/* The size that a whole file has by its header; -1 if it is of none of these
 * kinds or says nothing. Leaves the position anywhere. */
int64_t declared_end(FILE *file);

#endif
