/* Recordings joined to one long stereo file, clip by clip, with silence
 * between them and a short fade at every join. Nothing but the clip at work is
 * in memory. */
#ifndef TC_JOINED_SOUND_H
#define TC_JOINED_SOUND_H

#include <stdio.h>

#include "io/source.h"

enum joined_form { JOINED_FLAC, JOINED_WAV };

/* What was written. Silence between the clips is left out of the loudness. */
struct joined_sum {
    int64_t frames;
    double lufs;      /* BS.1770, integrated */
    double peak_db;   /* greatest sample, full scale = 0 */
};

struct joined;

/* 16 bits at `rate` Hz into a file that can be sought in; WAV beyond 4 GiB
 * becomes RF64 (EBU Tech 3306). TC_ERR_WRITE, TC_ERR_MEMORY. */
enum tc_status joined_open(struct joined **out, FILE *to, enum joined_form form, int rate);

/* Silence up to this sample frame. */
enum tc_status joined_silence(struct joined *j, int64_t until);

/* Reads a source and writes `frames` sample frames of it, amplified and at the
 * file's rate; where the source has less, silence follows. TC_ERR_STOPPED. */
enum tc_status joined_clip(struct joined *j, struct source *from, int64_t frames, double gain_db);

/* Ends the file: nothing can be written after it. TC_ERR_WRITE. */
enum tc_status joined_finish(struct joined *j, struct joined_sum *sum);

/* NULL is fine. */
void joined_close(struct joined *j);

#endif
