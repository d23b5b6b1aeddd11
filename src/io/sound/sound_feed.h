/* The sound of a show, ready before it is needed: a thread of its own reads the
 * file ahead, in the channels and at the rate of the card, with silence before
 * it and laps as the show has them. A slow disk costs sound, never light. */
#ifndef TC_SOUND_FEED_H
#define TC_SOUND_FEED_H

#include "words/model.h"

struct sound_feed;

struct sound_plan {
    const char *path;        /* NULL: no sound */
    double before_s;         /* silence before the sound begins */
    double lap_s;            /* when it begins again, if it does: silence fills a lap up */
    bool loop;
};

/* Opens the file. TC_ERR_READ, TC_ERR_MEMORY. The plan's path is borrowed. */
enum tc_status sound_feed_open(struct sound_feed **out, const struct sound_plan *plan, struct tc_problem *why);
double sound_feed_file_rate(const struct sound_feed *f);

/* Begins to read, for a card of 1 or 2 channels. TC_ERR_MEMORY. */
enum tc_status sound_feed_start(struct sound_feed *f, int channels, double rate, struct tc_problem *why);

/* Back to the beginning, which takes a moment; nothing can be taken until
 * sound_feed_ready. */
void sound_feed_rewind(struct sound_feed *f);
bool sound_feed_ready(const struct sound_feed *f);

/* What a taking found. */
struct sound_taken {
    int64_t at;              /* sample frames of the show before these */
    int64_t frames;          /* of the show among those filled in; the rest is silence */
    bool dry;                /* there should have been more */
};

/* Fills in the next `frames`; waits for nothing, for the card's own thread.
 * After the end, silence continues as part of the show. */
struct sound_taken sound_feed_take(struct sound_feed *f, float *to, size_t frames);

/* The recording was taken away, or replaced by another, before a later lap or
 * rewind opened it again: since then the show is silent. */
bool sound_feed_lost(const struct sound_feed *f);

/* NULL is fine. */
void sound_feed_close(struct sound_feed *f);

/* How long a sound file is; reads it through where its header doesn't say. */
enum tc_status sound_length(const char *path, double *seconds, struct tc_problem *why);

#endif
