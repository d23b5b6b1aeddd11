/* A part of a recording: what was heard in it, and its labels. The whole is
 * listened to in any case, since what counts depends on what is around it. */
#ifndef TC_PART_H
#define TC_PART_H

#include "marks/events_text.h"

/* From one moment up to, not including, another. */
struct part {
    int64_t from_ms, to_ms;
};

#define PART_WHOLE ((struct part){ 0, INT64_MAX })

/* Cracks that start outside are left out; of rumbles what lies within stays. */
void part_of_analysis(struct part part, struct tc_analysis *a);
void part_of_marks(struct part part, struct marks *m);

/* How long it is in a recording of this length. */
int64_t part_length_ms(struct part part, int64_t length_ms);

#endif
