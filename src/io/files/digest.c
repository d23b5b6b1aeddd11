#include "io/files/digest.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <xxhash.h>

uint64_t digest_bytes(uint64_t digest, const void *data, size_t size)
{
    return XXH3_64bits_withSeed(data, size, digest);
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
