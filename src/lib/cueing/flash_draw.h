/* A flash of lightning in numbers: how many strokes, when, how bright. From
 * what can be heard, else from the published statistics. */
#ifndef TC_FLASH_DRAW_H
#define TC_FLASH_DRAW_H

#include "thundercue.h"
#include "words/random.h"

/* Our choice: room for more strokes than nearly any draw from the published distributions has. */
enum { FLASH_STROKES_MOST = 26 };

struct flash_stroke {
    double after_ms;        /* after the first */
    double light;           /* the first is 1; may be above */
    bool heard;
};

/* Draws a flash from the published statistics: how many strokes (forced if
 * > 0), when, how bright. Returns the number of strokes, at least 1. */
int flash_draw(struct randomiser *r, const struct tc_settings *s, int forced,
               struct flash_stroke strokes[FLASH_STROKES_MOST]);

/* The same, but strokes that can be heard come first: attacks soon after the
 * crack a->events[event] and before `until_ms`. */
int flash_plan(struct randomiser *r, const struct tc_settings *s, const struct tc_analysis *a,
               size_t event, int64_t until_ms, struct flash_stroke strokes[FLASH_STROKES_MOST]);

#endif
