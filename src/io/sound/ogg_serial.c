#include "io/sound/ogg_serial.h"

#include <ogg/ogg.h>
#include <string.h>
#include <unistd.h>

/* A page (RFC 3533, section 6): "OggS", ..., serial number at 14, ..., number of
 * segments at 26, their lengths, and the body. */
enum { SERIAL_AT = 14, SEGMENTS_AT = 26, HEAD = 27, SEGMENTS_MOST = 255, SEGMENT_MOST = 255 };

static bool read_all(int file, unsigned char *to, size_t size, off_t at)
{
    return pread(file, to, size, at) == (ssize_t)size;
}

enum tc_status ogg_serial_set(FILE *stream, uint32_t serial)
{
    unsigned char page[HEAD + SEGMENTS_MOST + SEGMENTS_MOST * SEGMENT_MOST];
    if (fflush(stream)) return TC_ERR_WRITE;
    int file = fileno(stream);
    off_t end = lseek(file, 0, SEEK_END), at = 0;
    while (at < end) {
        if (!read_all(file, page, HEAD, at) || memcmp(page, "OggS", 4)) return TC_ERR_WRITE;
        size_t segments = page[SEGMENTS_AT], body = 0;
        if (!read_all(file, page + HEAD, segments, at + HEAD)) return TC_ERR_WRITE;
        for (size_t i = 0; i < segments; i++) body += page[HEAD + i];
        size_t head = HEAD + segments;
        if (!read_all(file, page + head, body, at + (off_t)head)) return TC_ERR_WRITE;
        for (int k = 0; k < 4; k++) page[SERIAL_AT + k] = (unsigned char)(serial >> 8 * k);
        ogg_page_checksum_set(&(ogg_page){ page, (long)head, page + head, (long)body });
        if (pwrite(file, page, head, at) != (ssize_t)head) return TC_ERR_WRITE;
        at += (off_t)(head + body);
    }
    return end > 0 ? TC_OK : TC_ERR_WRITE;
}
