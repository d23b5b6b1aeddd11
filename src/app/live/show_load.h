/* What a live show plays: the thing that the user names, taken into memory as
 * light for every slot, with its sound, and refused where it flashes too fast. */
#ifndef TC_SHOW_LOAD_H
#define TC_SHOW_LOAD_H

#include "app/live/show_job.h"
#include "app/live/track.h"
#include "light/audit.h"

enum { SHOW_PATH_SIZE = 4096 };

/* Stays where it was loaded: its parts point at each other. */
struct show_thing {
    char name[256];                  /* as it may be shown */
    char sound_path[SHOW_PATH_SIZE];
    const char *sound;               /* NULL: none */
    struct audit audit;              /* of a frames file: its columns and their rig */
    struct track track;
    double lap_s;
    double before_s;                 /* silence before the sound */
    bool refused;                    /* it flashes faster than the limit */
};

/* TC_ERR_READ, TC_ERR_FORM, TC_ERR_USAGE (refused, or another rig's columns),
 * TC_ERR_MEMORY, TC_ERR_STOPPED. Clear *out in any case. */
enum tc_status show_load(struct show_thing *out, const struct show_job *job, const struct tc_rig *rig,
                         const struct tc_settings *s, struct tc_problem *why);
void show_thing_clear(struct show_thing *t);

#endif
