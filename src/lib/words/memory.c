#include "words/memory.h"

#include <stdlib.h>

void *memory_new(size_t count, size_t size)
{
    return calloc(count, size);
}

void *memory_resize(void *old, size_t bytes)
{
    return realloc(old, bytes);
}

void memory_free(void *room)
{
    free(room);
}
