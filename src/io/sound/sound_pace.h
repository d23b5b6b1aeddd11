/* How regularly a sound card takes sound, and so how long it may take none
 * before that means that it has stopped. Learns the card's own rhythm: one that
 * takes a piece every 20 ms is missed after 70 ms, one on a machine that is too
 * busy for it later. Pure: the caller brings all times. */
#ifndef TC_SOUND_PACE_H
#define TC_SOUND_PACE_H

#include <stdbool.h>

struct sound_pace {
    double begun_s, told_s;      /* the first time, and the latest */
    double from_s;               /* since when pauses are counted as the latest ones */
    double longest_s, before_s;  /* the longest of them, and of those before */
    double most_s;               /* more is no rhythm of this card's */
    bool begun;
};

/* The longest pause of a card whose pieces are short. */
#define SOUND_PACE_MOST_S 0.16
#define SOUND_PACE_SPARE_S 0.05

/* The card takes `piece_s` of sound at `at_s`. */
void sound_pace_tell(struct sound_pace *p, double at_s, double piece_s);
/* After its latest piece it may take none for so long. */
double sound_pace_s(const struct sound_pace *p);

#endif
