/* A whole timeline as CSV, in one call each. */
#include "show/showing.h"

enum tc_status tc_frames_write(const struct tc_timeline *t, const struct tc_rig *rig,
                               const struct tc_settings *s, const struct tc_watch *watch,
                               struct tc_sink to, struct tc_problem *why)
{
    return showing_run(&(struct showing){ .timeline = t, .rig = rig, .settings = s, .watch = watch, .frames = &to },
                       why);
}

enum tc_status tc_ramps_write(const struct tc_timeline *t, const struct tc_rig *rig,
                              const struct tc_settings *s, const struct tc_watch *watch,
                              struct tc_sink to, struct tc_problem *why)
{
    return showing_run(&(struct showing){ .timeline = t, .rig = rig, .settings = s, .watch = watch, .ramps = &to },
                       why);
}
