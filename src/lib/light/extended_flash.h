/* Extended flashing (IRIS, from the remark on 5 s in ITU-R BT.1702): 4 or more
 * transitions a second for 4 s within any 5 s. It is a caution, not a limit. */
#ifndef TC_EXTENDED_FLASH_H
#define TC_EXTENDED_FLASH_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* A stretch of time with many transitions, half-open. */
struct stretch {
    int64_t from_us, to_us;
};

/* Within 5 s there is a new stretch at most for every transition that brings
 * the count to four, which is once in four transitions. */
enum { STRETCH_MOST = 64 };

/* Begin with zeroes. */
struct extended_flash {
    struct stretch busy[STRETCH_MOST];
    size_t busy_count;
    bool was_busy, was_extended;   /* the last frame */
    int64_t extended_us;
};

/* The time from the last frame to this one, which belongs to the last one's state. */
void extended_flash_pass(struct extended_flash *e, int64_t last_us, int64_t at_us);

/* A frame, which is taken to last `step_us`, by the transitions of the worst
 * second that ends with it. */
void extended_flash_judge(struct extended_flash *e, int transitions, int64_t at_us, int64_t step_us);

/* All time of extended flashing, the last frame's `step_us` among it. */
int64_t extended_flash_us(const struct extended_flash *e, int64_t step_us);

#endif
