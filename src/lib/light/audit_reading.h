/* What an audit holds while it reads; audit.c hands it to audit_rig.c. */
#ifndef TC_AUDIT_READING_H
#define TC_AUDIT_READING_H

#include "light/audit_found.h"

struct audit_job;
struct csv;
struct csv_text;

struct audit_reading {
    const struct audit_job *job;
    struct audit *out;
    struct tc_problem *why;
    const struct csv_text *text;
    struct csv *csv;
    size_t columns;             /* of the header row, the time among them */
    size_t time;                /* which of them is the time */
    bool numbered;              /* columns are named "1 trunk top": a column for every output */
    size_t *channel_of;         /* by column: index into the rig, or NO_CHANNEL */
    uint16_t full;
    uint16_t *levels;           /* of this row, in rig order */
    struct flash_counter *flash;
    struct tc_channel lamp;     /* the only channel of `lone` */
    struct tc_rig lone;         /* what each of `alone` counts on */
    struct flash_counter **alone; /* by channel, where no rig tells how much light each gives; else NULL */
    struct load_meter *load;
    bool quiet;                 /* all that could be remarked has been */
};

/* Takes note of what is wrong at the row that was read last; `column` from 1, 0 = the whole row. */
void audit_note(struct audit_reading *r, enum audit_topic topic, size_t column, const char *format, ...)
    __attribute__((format(printf, 4, 5)));

/* The same about columns that are not this rig's, so that the timeline is none for it. */
void audit_note_misfit(struct audit_reading *r, size_t column, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* Which of the columns of levels a column is. */
size_t audit_nth(const struct audit_reading *r, size_t column);

/* Most columns are outputs of this rig by their number. */
bool audit_columns_are_outputs(const struct audit_reading *r, const struct tc_rig *rig);

/* Most columns have the names of this rig, in its order: it is meant, and what
 * differs is worth telling. */
bool audit_columns_suit(const struct audit_reading *r, const struct tc_rig *rig);

/* Finds the channel of each column in the audit's rig, and remarks on what does not fit. */
void audit_match_rig(struct audit_reading *r);

/* Every column a channel like the others: one series, no load. TC_ERR_MEMORY. */
enum tc_status audit_make_rig(struct audit_reading *r);

#endif
