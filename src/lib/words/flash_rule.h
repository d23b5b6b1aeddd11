/* The numbers of the flash rule, for all who plan, limit or count flashes; the
 * rule itself stands in light/flash_count.h. */
#ifndef TC_FLASH_RULE_H
#define TC_FLASH_RULE_H

/* A change of this share of the all-on light, in percent, is a transition, and
 * two opposing ones are a flash (WCAG 2.2). */
enum { FLASH_PERCENT = 10 };
/* A change of exactly that counts, whatever the last bit of a sum says. */
#define FLASH_TRANSITION (FLASH_PERCENT / 100.0 - 1e-9)
/* Plan and limiter count changes from here on already: ramps pass the light of
 * frames by a little, and two such passings must not make a transition of what
 * was none. */
#define FLASH_GUARDED (FLASH_TRANSITION - 0.005)
/* The most flashes a second that any setting allows. */
enum { FLASH_LIMIT_MOST = 3 };
/* Plan and limiter take the second this many light frames longer than it is,
 * so that ramps between frames can't undercut it. */
enum { FLASH_FRAMES_MORE = 1 };
/* Plan and limiter take it that the fall of a stroke is a transition this many
 * frames after its peak, at the earliest. */
enum { FLASH_FALL_FRAMES = 2 };

#endif
