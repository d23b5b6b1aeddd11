#include "app/report/text_width.h"

#include <utf8proc.h>

size_t text_columns(const char *s)
{
    size_t columns = 0;
    for (const utf8proc_uint8_t *c = (const utf8proc_uint8_t *)s; *c;) {
        utf8proc_int32_t point;
        utf8proc_ssize_t n = utf8proc_iterate(c, -1, &point);
        columns += n > 0 ? (size_t)utf8proc_charwidth(point) : 1;
        c += n > 0 ? n : 1;
    }
    return columns;
}
