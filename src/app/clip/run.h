/* One run: from what a job asks for to the files of its show. The story (of a
 * recording, of an evening) hands it from step to step, and each step has its
 * own file: run_names, run_hear, run_write, run_sum, run_page. */
#ifndef TC_RUN_H
#define TC_RUN_H

#include "app/clip/job.h"
#include "app/clip/page_sound.h"
#include "io/files/outfile.h"
#include "page/data.h"

struct json_t;

enum { RUN_MORE = 2 };

/* What an evening's page and report have besides. */
struct run_extra {
    const char *const *command;    /* the words after "thundercue" that make it again, but for rig
                                      and settings; ended by NULL */
    struct page_part page;
    struct json_t *(*report)(const void *of); /* a new reference, goes into the report as "night" */
    const void *of;
};

struct run {
    const struct job *job;
    const struct tc_rig *rig;
    const struct tc_settings *settings;
    struct tc_settings of_events;  /* them with the sensitivity of the events file, once it was read */
    struct outcome *out;
    struct tc_problem *why;
    struct source *source;         /* open until the page has its sound; NULL without a recording */
    struct page_sound *sound;      /* NULL without a page */
    const struct run_extra *extra; /* NULL: one recording, no evening */
    struct tc_analysis heard;
    struct tc_timeline timeline;
    struct outfile *more[RUN_MORE]; /* further files that get their names together with the outputs; NULL = none */
};

/* From what was heard to the timeline. TC_ERR_USAGE, TC_ERR_MEMORY, TC_ERR_STOPPED. */
enum tc_status run_cue(struct run *r);

/* Closes what is open and frees what was made, but for the further files. */
void run_end(struct run *r);

#endif
