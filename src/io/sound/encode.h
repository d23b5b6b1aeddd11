/* Makes a recording fit to live inside a page: FLAC of 16 bits, since browsers
 * find every moment of it again to the sample (an MP3 of variable rate is up to
 * 0.4 s out after a jump), and since it takes a fifth of the time. Rates of 32
 * kHz and more are halved first, as thunder has little above 11 kHz; what is
 * not within 8 to 48 kHz then is converted (libsamplerate). More than two
 * channels are mixed down to two: odd ones left, even ones right. Push samples
 * in blocks of any size; the same samples give the same bytes. */
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

/* As browsers name it: "audio/flac". */
const char *encoder_type(void);

/* NULL is fine. */
void encoder_destroy(struct encoder *e);

#endif
