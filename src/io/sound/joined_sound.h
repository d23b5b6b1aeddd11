/* Recordings joined to one long stereo file: clips with silence between them,
 * or one over the other, each with a short fade at its ends; perhaps a track
 * beneath. Nothing but what sounds at the moment is in memory. */
#ifndef TC_JOINED_SOUND_H
#define TC_JOINED_SOUND_H

#include <stdio.h>

#include "io/sound/source.h"
#include "io/sound/under.h"

enum joined_form { JOINED_FLAC, JOINED_WAV, JOINED_OGG, JOINED_FORMS };

/* The names of the forms as endings of a file, "flac". */
extern const char *const joined_endings[JOINED_FORMS];

/* What is to be written: 16 bits or 24 (Vorbis has none), at `rate` Hz, with noise by a seed. */
struct joined_wish {
    enum joined_form form;
    int bits, rate;
    uint64_t seed;
};
#define JOINED_BITS_USUAL 16

/* So many clips may sound at once. */
enum { JOINED_VOICES_MOST = 8 };

/* What was written. Long silence is left out of the loudness, whose gate leaves it out as well. */
struct joined_sum {
    int64_t frames;
    double lufs;        /* BS.1770, integrated */
    double peak_db;     /* greatest sample, full scale = 0 */
    double softened_s;  /* where sounds that added up had to be kept from clipping */
};

struct joined;

/* Into a file that can be sought in; WAV beyond 4 GiB becomes RF64 (EBU Tech
 * 3306). TC_ERR_WRITE, TC_ERR_MEMORY. */
enum tc_status joined_open(struct joined **out, FILE *to, const struct joined_wish *wish);

/* A track beneath all that follows. Borrowed until the end. TC_ERR_READ,
 * TC_ERR_MEMORY. */
enum tc_status joined_under(struct joined *j, const struct under_plan *plan, struct tc_problem *why);

/* Writes what sounds up to this sample frame. TC_ERR_STOPPED. */
enum tc_status joined_until(struct joined *j, int64_t frame);

/* A clip begins where the file stands: `frames` of the source, amplified and at
 * the file's rate; where it has less, silence follows. Takes the source over.
 * TC_ERR_MEMORY, TC_ERR_USAGE if too many sound already. */
enum tc_status joined_clip(struct joined *j, struct source *from, int64_t frames, double gain_db);

/* Ends the file: nothing can be written after it. TC_ERR_WRITE. */
enum tc_status joined_finish(struct joined *j, struct joined_sum *sum);

/* NULL is fine. */
void joined_close(struct joined *j);

#endif
