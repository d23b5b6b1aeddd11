/* The one place through which the library allocates. */
#ifndef TC_MEMORY_H
#define TC_MEMORY_H

#include <stddef.h>

/* Zeroed room for `count` things of `size` bytes; NULL out of memory. */
void *memory_new(size_t count, size_t size);
/* The same room at another size in bytes, contents kept, what is new not
 * zeroed; NULL out of memory, and then `old` stays as it is. */
void *memory_resize(void *old, size_t bytes);
/* NULL is fine. */
void memory_free(void *room);

#endif
