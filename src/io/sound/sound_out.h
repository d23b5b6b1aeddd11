/* The sound of a show, and the clock that light follows. With a sound file it
 * plays on a sound card and tells which moment of the show is being heard: the
 * card says when each buffer leaves it, its own delay included. Without a file
 * the show runs silently by the machine's clock. */
#ifndef TC_SOUND_OUT_H
#define TC_SOUND_OUT_H

#include "io/sound/sound_feed.h"

struct sound_out;

/* Opens file and card (by its name, NULL for the usual one) and lets the card
 * run, silent for now. TC_ERR_READ and what sound_card_open gives. */
enum tc_status sound_out_open(struct sound_out **out, const struct sound_plan *plan, const char *card,
                              struct tc_problem *why);

/* The first of the sound lies ready: after opening and after sound_out_rewind that takes a moment. */
bool sound_out_ready(const struct sound_out *o);
/* The show begins; after sound_out_rewind once more. */
void sound_out_start(struct sound_out *o);
/* Silence, and back to the beginning. */
void sound_out_rewind(struct sound_out *o);

/* What is heard. */
struct sound_heard {
    double show_s;           /* which second of the show; below 0 before it has begun */
    double until_s;          /* unless the card takes more of it before, it has stopped then: no more light */
};
struct sound_heard sound_out_heard(struct sound_out *o, double now_s);

/* True if the card is gone, or does not keep time; *why says what. */
bool sound_out_lost(struct sound_out *o, double now_s, struct tc_problem *why);

/* The card's delay, as it tells, and how often it ran dry. */
double sound_out_delay_s(const struct sound_out *o);
int64_t sound_out_gaps(const struct sound_out *o);
/* See sound_feed_lost. */
bool sound_out_recording_lost(const struct sound_out *o);

/* NULL is fine. A card that was lost is left as it is, to the end of the program. */
void sound_out_close(struct sound_out *o);

#endif
