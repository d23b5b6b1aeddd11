#include "io/network/e131.h"

#include <string.h>

#include "io/files/digest.h"

/* ---- Numbers on the wire ---- */

static uint8_t *put8(uint8_t *at, unsigned value)
{
    *at = (uint8_t)value;
    return at + 1;
}

static uint8_t *put16(uint8_t *at, unsigned value)
{
    return put8(put8(at, value >> 8), value);
}

static uint8_t *put32(uint8_t *at, uint32_t value)
{
    return put16(put16(at, value >> 16), value);
}

static uint8_t *put_bytes(uint8_t *at, const void *from, size_t size)
{
    memcpy(at, from, size);
    return at + size;
}

/* Flags (0x7) and the bytes from here to the packet's end. */
static uint8_t *put_length(uint8_t *packet, uint8_t *at, size_t all)
{
    return put16(at, 0x7000u | (unsigned)(all - (size_t)(at - packet)));
}

/* ---- Who sends ---- */

void e131_cid(uint8_t cid[E131_CID_BYTES], const void *of, size_t size)
{
    uint64_t high = digest_bytes(1, of, size), low = digest_bytes(2, of, size);
    for (int i = 0; i < 8; i++) {
        cid[i] = (uint8_t)(high >> (56 - 8 * i));
        cid[8 + i] = (uint8_t)(low >> (56 - 8 * i));
    }
    cid[6] = (uint8_t)((cid[6] & 0x0F) | 0x80); /* version 8: by a rule of our own */
    cid[8] = (uint8_t)((cid[8] & 0x3F) | 0x80); /* the variant of RFC 9562 */
}

void e131_name(char to[E131_NAME_BYTES], const char *from)
{
    size_t n = strnlen(from, E131_NAME_BYTES);
    if (n == E131_NAME_BYTES) {
        n--;
        while (n && ((unsigned char)from[n] & 0xC0) == 0x80) n--; /* amid a letter */
    }
    memset(to, 0, E131_NAME_BYTES);
    memcpy(to, from, n);
}

/* ---- Layers ---- */

/* Preamble and root layer; `vector` tells data from announcements. */
static uint8_t *put_root(uint8_t *packet, size_t all, uint32_t vector, const struct e131_source *from)
{
    uint8_t *at = put16(packet, 0x0010);
    at = put16(at, 0);
    at = put_bytes(at, "ASC-E1.17\0\0\0", 12);
    at = put_length(packet, at, all);
    at = put32(at, vector);
    return put_bytes(at, from->cid, E131_CID_BYTES);
}

size_t e131_data(uint8_t *to, const struct e131_source *from, uint16_t universe, uint8_t sequence,
                 uint8_t options, const uint8_t *slots, size_t count)
{
    size_t all = E131_HEAD_BYTES + count;
    uint8_t *at = put_root(to, all, 0x00000004, from);

    at = put_length(to, at, all);            /* framing layer */
    at = put32(at, 0x00000002);
    at = put_bytes(at, from->name, E131_NAME_BYTES);
    at = put8(at, from->priority);
    at = put16(at, 0);                       /* not synchronised */
    at = put8(at, sequence);
    at = put8(at, options);
    at = put16(at, universe);

    at = put_length(to, at, all);            /* DMP layer */
    at = put8(at, 0x02);
    at = put8(at, 0xA1);
    at = put16(at, 0x0000);
    at = put16(at, 0x0001);
    at = put16(at, (unsigned)count + 1);
    at = put8(at, 0);                        /* START code of levels */
    put_bytes(at, slots, count);
    return all;
}

size_t e131_discovery(uint8_t *to, const struct e131_source *from, uint16_t first, size_t count)
{
    size_t all = 120 + 2 * count;
    uint8_t *at = put_root(to, all, 0x00000008, from);

    at = put_length(to, at, all);            /* framing layer */
    at = put32(at, 0x00000002);
    at = put_bytes(at, from->name, E131_NAME_BYTES);
    at = put32(at, 0);

    at = put_length(to, at, all);            /* the list of universes: page 0 of 0 */
    at = put32(at, 0x00000001);
    at = put16(at, 0);
    for (size_t i = 0; i < count; i++) at = put16(at, (unsigned)(first + i));
    return all;
}

uint32_t e131_group(uint16_t universe)
{
    return 239u << 24 | 255u << 16 | universe;
}
