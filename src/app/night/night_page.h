/* What the page of an evening shows besides its light: storms, running order. */
#ifndef TC_NIGHT_PAGE_H
#define TC_NIGHT_PAGE_H

#include "app/clip/run.h"
#include "app/night/night_job.h"

struct night_page {
    struct run_extra extra;
    const char *command[24];
    char numbers[4][24];
    const struct night_job *job;
    const struct night_outcome *outcome;
};

/* Fills in p->extra. Borrows both; *p must stay where it is. */
void night_page_of(struct night_page *p, const struct night_job *job, const struct night_outcome *o);

#endif
