/* What was heard stays known: a hidden file in the output folder holds it for
 * the next evening of the same recordings, by the digest of their content and
 * of all that shapes what is heard. It may be deleted at any time; one that is
 * damaged, or can't be written, is as good as none. */
#ifndef TC_NIGHT_MEMORY_H
#define TC_NIGHT_MEMORY_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "thundercue.h"

#define NIGHT_MEMORY_NAME ".thundercue.heard"

struct night_memory;

/* TC_ERR_MEMORY. */
enum tc_status night_memory_open(struct night_memory **out, const char *folder);

/* What shapes what is heard besides the recording: settings, the evening's
 * sample rate, the program itself to the byte. */
uint64_t night_memory_ground(const struct tc_settings *s, int rate);

/* What is known of a content: with this ground, or with any. The bytes are the
 * memory's; NULL if there are none. */
const char *night_memory_find(const struct night_memory *m, uint64_t content, uint64_t ground, size_t *size);
const char *night_memory_any(const struct night_memory *m, uint64_t content, size_t *size);

/* Takes the bytes over (freed by the memory, in any case). Not for several threads at once. */
void night_memory_add(struct night_memory *m, uint64_t content, uint64_t ground, char *bytes, size_t size);

/* Writes it anew if something was added: that first, then what was known before, as far as there is room. */
void night_memory_write(struct night_memory *m);

/* NULL is fine. */
void night_memory_close(struct night_memory *m);

#endif
