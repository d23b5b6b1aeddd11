#include "io/files/stream.h"

#include "words/sink.h"

static enum tc_status write_bytes(void *to, const char *bytes, size_t size)
{
    return fwrite(bytes, 1, size, to) == size ? TC_OK : TC_ERR_WRITE;
}

struct tc_sink stream_sink(FILE *out)
{
    return (struct tc_sink){ write_bytes, out };
}

void stream_cell(FILE *out, const char *cell, bool guard)
{
    struct writer w;
    writer_begin(&w, stream_sink(out));
    writer_cell(&w, cell, guard);
    writer_end(&w);
}
