/* What an audit finds in a timeline, and what of it makes a check fail. */
#ifndef TC_AUDIT_FOUND_H
#define TC_AUDIT_FOUND_H

#include "words/model.h"

/* What a remark is about. */
enum audit_topic {
    AUDIT_FORM,    /* not a table of times and numbers */
    AUDIT_TIME,    /* times that don't rise in even steps */
    AUDIT_RANGE,   /* levels out of range */
    AUDIT_RIG,     /* columns that are not the rig's channels */
    AUDIT_TOPICS
};

enum { AUDIT_KEPT = 20 }; /* remarks kept of each topic; all are counted */

struct audit_remark {
    long line;             /* from 1 */
    size_t column;         /* from 1; 0 = the whole row */
    char text[200];
};

/* How the levels are written. */
enum audit_unit { AUDIT_GUESS, AUDIT_PERCENT, AUDIT_8BIT, AUDIT_UNIT /* 0 to 1 */ };

struct audit {
    struct audit_remark remarks[AUDIT_TOPICS][AUDIT_KEPT];
    size_t counts[AUDIT_TOPICS];
    struct audit_remark misfit; /* of AUDIT_RIG: the first that makes this another rig's timeline, so that its
                                   levels are not this rig's; text "" if there is none. Another order is no misfit */
    enum audit_unit unit;  /* that was given or found */
    struct tc_rig rig;     /* that it was counted on: the job's (borrowed) or made from the columns */
    bool own_rig;          /* made from the columns; audit_clear frees it. No load is known then */
    const char *other_table; /* "a ramps file": it is one, and nothing else was looked at; or NULL */
    size_t levels_count;   /* columns of levels */
    size_t rows;
    int64_t start_us, end_us, step_us; /* first and last row, first step */
    bool ends_dark;
    struct flash_report flash;
    struct flash_report alone; /* without a rig: of the column that flashes most when it is taken as all the light */
    size_t alone_channel;  /* which of the columns of levels that is */
    bool *at_peak;         /* by channel of `rig`: changed within the worst second */
    bool *lit;             /* lights at all */
    size_t never_lit;
    struct load_report load;
};

void audit_clear(struct audit *a);

/* True if more transitions lie in a second than the limit allows. */
bool audit_flashes_too_fast(const struct audit *a);
/* True if a column alone does so while all together, each with the same weight,
 * don't: only the rig, which is not known, could tell. */
bool audit_cannot_tell(const struct audit *a);
/* True if a channel's lamps draw more than its dimmer output may give. */
bool audit_channel_over(const struct audit *a, size_t channel);
/* Everything that makes the check fail: remarks of any topic, flash rate
 * (or that it can't be told), light at the end, load. Cautions (extended flashing, unused channels) don't. */
bool audit_findings(const struct audit *a);
/* True if audit_cannot_tell is the only finding. */
bool audit_only_cannot_tell(const struct audit *a);

#endif
