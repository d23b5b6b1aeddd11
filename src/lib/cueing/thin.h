/* Leaves out strokes that the flash limit has no room for, so that the limiter
 * seldom has to act and never on a strong crack for the sake of a weak one. */
#ifndef TC_THIN_H
#define TC_THIN_H

#include "thundercue.h"

/* Gives room by rank and strength: first strokes, restrikes heard, restrikes
 * drawn. A stroke keeps its room until its fall is over (tail.h). Strokes of
 * order > 0 that don't fit are left out with their pulses and counted in
 * t->dropped, and the stroke before glows in their place (the setting
 * glow_light). First strokes stay; those that don't fit beside stronger ones
 * are marked: they yield. Nothing to do with flash_limit 0. TC_ERR_MEMORY. */
enum tc_status thin_strokes(struct tc_timeline *t, const struct tc_rig *rig, const struct tc_settings *s,
                            const struct tc_watch *watch);

#endif
