/* The sound of a show, and the clock that light follows. With a sound file it
 * plays on the machine's usual sound card (PortAudio) and tells which moment of
 * the show is being heard: the card says when each buffer leaves it, its own
 * delay included. Without a file the show runs silently by the machine's clock.
 *
 * A feeder thread reads the file ahead, so that a slow disk costs sound, never
 * light; the card's own thread only takes what lies ready. */
#ifndef TC_SOUND_OUT_H
#define TC_SOUND_OUT_H

#include "words/model.h"

struct sound_out;

struct sound_plan {
    const char *path;        /* NULL: no sound */
    double before_s;         /* silence before the sound begins */
    double lap_s;            /* when it begins again, if it does: silence fills a lap up */
    bool loop;
};

/* Opens file and card and lets the card run, silent for now. TC_ERR_READ,
 * TC_ERR_WRITE without a sound card (or where thundercue was built without
 * PortAudio), TC_ERR_MEMORY. */
enum tc_status sound_out_open(struct sound_out **out, const struct sound_plan *plan, struct tc_problem *why);

/* The first of the sound lies ready: after opening and after sound_out_rewind that takes a moment. */
bool sound_out_ready(const struct sound_out *o);
/* The show begins; after sound_out_rewind once more. */
void sound_out_start(struct sound_out *o);
/* Silence, and back to the beginning. */
void sound_out_rewind(struct sound_out *o);

/* Which second of the show is heard at `now_s`; below 0 before it has begun. */
double sound_out_heard_s(struct sound_out *o, double now_s);

/* True if the card is gone, or does not keep time; *why says what. */
bool sound_out_lost(struct sound_out *o, double now_s, struct tc_problem *why);

/* The card's delay, as it tells, and how often it ran dry. */
double sound_out_delay_s(const struct sound_out *o);
int64_t sound_out_gaps(const struct sound_out *o);

/* NULL is fine. A card that was lost is left as it is, to the end of the program. */
void sound_out_close(struct sound_out *o);

/* How long a sound file is; reads it through where its header doesn't say. */
enum tc_status sound_length(const char *path, double *seconds, struct tc_problem *why);

#endif
