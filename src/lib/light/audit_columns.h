/* What the header row of a frames file says: the inner part of `audit`. */
#ifndef TC_AUDIT_COLUMNS_H
#define TC_AUDIT_COLUMNS_H

#include "words/csv.h"
#include "words/model.h"

#define NO_CHANNEL SIZE_MAX

/* The column of the times in the row just read; the first if none is named so. */
size_t audit_time_column(struct csv *csv);

/* A table that is no timeline, and two of its columns by which it is known. */
struct audit_table {
    const char *first, *second;
    const char *is;        /* "a summary of a folder" */
};

/* What another table is by its header row, one that the library writes or one of
 * `others` (struct audit_job); NULL if it is none. */
const char *audit_other_table(struct csv *csv, const struct audit_table *others);

/* True if the channel has that name; in a file a name stands as plain text. */
bool audit_is_named(const struct tc_channel *c, const char *name);

/* The channel of that name, tried at `try_first` at first; or NO_CHANNEL. */
size_t audit_find_channel(const struct tc_rig *rig, const char *name, size_t try_first);

/* A column of an output by its number, "4 trunk tip" or, where nothing hangs on
 * it, "4": its channel, or NO_CHANNEL. False if it is no such column. */
bool audit_find_output(const struct tc_rig *rig, const char *cell, size_t *channel);

#endif
