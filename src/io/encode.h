/* Makes a recording small enough to live inside a page: MP3 where libsndfile
 * can write it, else 16-bit WAV. Push samples in blocks of any size. Rates
 * that MP3 doesn't know are converted (libsamplerate), more than two channels
 * are mixed down to two: odd ones left, even ones right. The same samples give
 * the same bytes. Besides source.c the only place that uses libsndfile. */
#ifndef TC_ENCODE_H
#define TC_ENCODE_H

#include <stdio.h>

#include "thundercue.h"

struct encoder;

/* `rate` in Hz, `channels` 1..64. Works on an unnamed temporary file.
 * TC_ERR_MEMORY, TC_ERR_WRITE. */
enum tc_status encoder_create(struct encoder **out, double rate, int channels);

/* Interleaved, full scale +-1; beyond is clipped. TC_ERR_WRITE. */
enum tc_status encoder_push(struct encoder *e, const float *samples, size_t frames);

/* Ends the recording. Afterwards encoder_bytes gives what was made, from its
 * start, until the encoder is destroyed. TC_ERR_WRITE. */
enum tc_status encoder_finish(struct encoder *e);
FILE *encoder_bytes(const struct encoder *e);

/* As browsers name it, e.g. "audio/mpeg". */
const char *encoder_type(const struct encoder *e);

/* NULL is fine. */
void encoder_destroy(struct encoder *e);

#endif
