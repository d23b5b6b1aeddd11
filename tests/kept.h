/* All that goes to a sink, kept as one text. */
#ifndef TC_TESTS_KEPT_H
#define TC_TESTS_KEPT_H

#include "check.h"

#include "thundercue.h"

struct kept {
    char *bytes;             /* NUL-terminated; NULL before the first write */
    size_t size;
};

static inline enum tc_status kept_write(void *to, const char *bytes, size_t size)
{
    struct kept *k = to;
    char *more = realloc(k->bytes, k->size + size + 1);
    if (!more) return TC_ERR_MEMORY;
    k->bytes = more;
    memcpy(k->bytes + k->size, bytes, size);
    k->bytes[k->size += size] = '\0';
    return TC_OK;
}

static inline struct tc_sink kept_sink(struct kept *k)
{
    return (struct tc_sink){ kept_write, k };
}

static inline void kept_free(struct kept *k)
{
    free(k->bytes);
    *k = (struct kept){ NULL, 0 };
}

#endif
