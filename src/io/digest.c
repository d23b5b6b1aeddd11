#include "io/digest.h"

#include <endian.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static uint64_t mix(uint64_t z)
{
    z += 0x9E3779B97F4A7C15u;
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9u;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBu;
    return z ^ (z >> 31);
}

/* Lowest byte first, whatever the machine. */
static uint64_t word_of(const unsigned char *b, size_t size)
{
    uint64_t word = 0;
    memcpy(&word, b, size);
    return le64toh(word);
}

uint64_t digest_bytes(uint64_t digest, const void *data, size_t size)
{
    const unsigned char *b = data;
    size_t at = 0;
    for (; at + 8 <= size; at += 8) digest = mix(digest ^ word_of(b + at, 8));
    digest = mix(digest ^ word_of(b + at, size - at));
    return mix(digest ^ size);
}

uint64_t digest_text(uint64_t digest, const char *text)
{
    return digest_bytes(digest, text, strlen(text));
}

bool digest_file(uint64_t *digest, const char *path, bool (*stop)(void))
{
    enum { BLOCK = 1 << 16 };
    FILE *in = fopen(path, "rb");
    unsigned char *block = malloc(BLOCK);
    bool ok = in && block;
    size_t n;
    while (ok && (n = fread(block, 1, BLOCK, in)) > 0) {
        *digest = digest_bytes(*digest, block, n);
        if (stop && stop()) ok = false;
    }
    ok = ok && !ferror(in);
    if (in) fclose(in);
    free(block);
    return ok;
}
