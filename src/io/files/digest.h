/* A short mark of content, to tell whether anything has changed since last
 * time: 64 bits, the same on every machine (XXH3). Not meant against forgers. */
#ifndef TC_DIGEST_H
#define TC_DIGEST_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* The digest of what `digest` stood for, followed by these bytes. Start with
 * 0. The same calls give the same digest; other cuts give another. */
uint64_t digest_bytes(uint64_t digest, const void *data, size_t size);
uint64_t digest_text(uint64_t digest, const char *text);

/* All bytes of a file. False if it can't be read to its end or `stop` (may be
 * NULL) says so. */
bool digest_file(uint64_t *digest, const char *path, bool (*stop)(void));

#endif
