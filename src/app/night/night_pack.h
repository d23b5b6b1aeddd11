/* What was heard of a recording of an evening, as bytes: from one process to
 * another, and from one run to the next on the same machine. */
#ifndef TC_NIGHT_PACK_H
#define TC_NIGHT_PACK_H

#include "app/night/night_job.h"

/* The caller frees *bytes. TC_ERR_MEMORY. */
enum tc_status night_pack(const struct night_recording *r, char **bytes, size_t *size);

/* Fills in rate, frames, loudness, what was heard and the note. TC_ERR_FORM,
 * TC_ERR_MEMORY; then nothing was heard. */
enum tc_status night_unpack(struct night_recording *r, const char *bytes, size_t size);

/* The recording's sample rate alone; 0 where these are no such bytes. */
double night_pack_rate(const char *bytes, size_t size);

#endif
