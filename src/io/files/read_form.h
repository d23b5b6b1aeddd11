/* Rig, settings and events files from the disk: opened, read and taken apart by
 * the library. "-" is standard input. */
#ifndef TC_READ_FORM_H
#define TC_READ_FORM_H

#include "marks/events_text.h"
#include "rig/rig_text.h"

/* TC_ERR_RIG, also where it can't be read; TC_ERR_MEMORY. */
enum tc_status read_rig(const char *path, struct tc_rig *out, struct tc_problem *why);
/* The same with all that is wrong in it; nothing is in *all where it can't be read. */
enum tc_status read_rig_all(const char *path, struct tc_rig *out, struct rig_problems *all, struct tc_problem *why);

/* Over what *s has already. TC_ERR_FORM, TC_ERR_MEMORY. */
enum tc_status read_settings(const char *path, struct tc_settings *s, struct tc_problem *why);

/* Events or labels. TC_ERR_FORM, TC_ERR_MEMORY; clear *out in any case. */
enum tc_status read_marks(const char *path, struct marks *out, struct tc_problem *why);

#endif
