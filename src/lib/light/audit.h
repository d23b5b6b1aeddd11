/* Audits a timeline in the form of frames.csv, whoever made it: its form, its
 * levels, its time steps, how it fits a rig, how it flashes and what it draws.
 * Beyond the text, memory depends on the channels, not on the length. */
#ifndef TC_AUDIT_H
#define TC_AUDIT_H

#include "light/audit_found.h"

struct audit_table; /* audit_columns.h */

struct audit_job {
    const char *name;      /* of the file, for messages */
    const struct tc_rig *rig;     /* whose channels the columns must be; may be NULL */
    const struct tc_rig *perhaps; /* without a rig: taken if the columns are its channels, else
                                     every column is a channel like the others; may be NULL */
    enum audit_unit unit;
    int64_t limit;         /* flashes in any second; 0 = off */
    bool loop;             /* the timeline repeats */
    const struct audit_table *others; /* that the file may be by mistake, besides those that the library
                                         writes; ended by one without a name; may be NULL */
    const struct tc_watch *watch; /* may be NULL */
    /* Gets every row that was taken, levels in rig order with `full` as 100 percent; may be NULL */
    void (*row)(void *user, int64_t at_us, const uint16_t *levels, uint16_t full);
    void *row_user;
};

/* Reads a text. TC_OK whatever is found in it; TC_ERR_MEMORY, TC_ERR_STOPPED with *why. Clear *out in any case. */
enum tc_status audit_run(const struct audit_job *job, const char *text, size_t size, struct audit *out,
                         struct tc_problem *why);
/* The same of a text that may be read in pieces; two or three times, each from its beginning. */
struct csv_text;
enum tc_status audit_run_text(const struct audit_job *job, const struct csv_text *text, struct audit *out,
                              struct tc_problem *why);

#endif
