/* Rig files to start from: a commented example that shows every key, and one
 * made for so many branches and floods. Both read back without an error. */
#ifndef TC_RIG_NEW_H
#define TC_RIG_NEW_H

#include "words/model.h"

/* What hangs in the trees, and what there is to feed it. */
struct rig_plan {
    int branches;  /* light strings along the bolt, 0..RIG_PLAN_MOST */
    int floods;    /* 0..RIG_PLAN_MOST; at least one lamp in all */
    int channels;  /* of the dimmer, 1..512; 0 = as many as it takes, up to 512 */
};

enum { RIG_PLAN_MOST = 1000 };

/* Writes a commented rig file. Where there are more lamps than channels,
 * neighbours share one, and the file says so. TC_ERR_USAGE with *why if the
 * plan is out of its bounds or has no room for both kinds; else the sink's. */
enum tc_status rig_new_write(struct tc_sink to, const struct rig_plan *plan, struct tc_problem *why);

/* Writes the example. */
enum tc_status rig_new_example(struct tc_sink to);

#endif
