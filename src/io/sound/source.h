/* Recordings: any file that libsndfile opens, or standard input ("-"), read
 * block by block as floats, once. The only place that decodes sound; it also
 * fences libsndfile's process-wide error state (one lock around open and
 * explain) and keeps its codecs' chatter off standard error. */
#ifndef TC_SOURCE_H
#define TC_SOURCE_H

#include <stdio.h>

#include "words/model.h"

struct source;

enum { SOURCE_BLOCK = 8192 }; /* sample frames that are worth reading at once */

/* "-" is standard input, copied to an unnamed temporary file first, because
 * most formats need to be read back and forth. TC_ERR_READ with *why naming
 * file and reason, TC_ERR_MEMORY. */
enum tc_status source_open(struct source **out, const char *path, struct tc_problem *why);

const char *source_name(const struct source *s); /* for messages: plain text */
double source_rate(const struct source *s);      /* Hz */
int source_channels(const struct source *s);
int64_t source_frames(const struct source *s);   /* as the header claims; -1 unknown */

/* Reads up to `frames` sample frames, interleaved; 0 at the end or where the
 * data can't be decoded further. NaN and infinities come as 0 and are counted. */
size_t source_read(struct source *s, float *samples, size_t frames);

/* After the last read: how many samples were bad, and whether there was less
 * sound than the header claims, or more. A remark for the user, empty if all
 * was well. */
int64_t source_bad_samples(const struct source *s);
void source_remark(const struct source *s, struct tc_problem *remark);

/* The recording as browsers play it, e.g. "audio/flac"; NULL unless they keep
 * its time: from the same first sample, as long, and found again when somebody
 * moves about in it (which an MP3 of variable rate is not). */
const char *source_browser_type(const struct source *s);

/* All bytes of the recording from their start, and how many; NULL if they
 * can't be had. The stream is the source's, and must not be used together with
 * source_read. */
FILE *source_bytes(struct source *s);
int64_t source_size(const struct source *s);

/* NULL is fine. */
void source_close(struct source *s);

#endif
