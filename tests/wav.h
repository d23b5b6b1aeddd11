/* WAV files put together byte by byte, right and wrong ones: RIFF sizes are
 * 32-bit little-endian, chunks are padded to even length (IBM & Microsoft,
 * Multimedia Programming Interface and Data Specifications 1.0, 1991). */
#ifndef TC_TESTS_WAV_H
#define TC_TESTS_WAV_H

#include "check.h"

struct bytes {
    unsigned char *data;
    size_t size, room;
};

static inline void bytes_put(struct bytes *b, const void *data, size_t size)
{
    if (!size) return;
    if (b->size + size > b->room) {
        b->room = 2 * (b->size + size);
        b->data = realloc(b->data, b->room);
        assert_non_null(b->data);
    }
    memcpy(b->data + b->size, data, size);
    b->size += size;
}

/* The lowest `count` bytes of a number, lowest first. */
static inline void bytes_number(struct bytes *b, uint64_t value, int count)
{
    for (int i = 0; i < count; i++) bytes_put(b, &(unsigned char){ (unsigned char)(value >> (8 * i)) }, 1);
}

static inline void bytes_chunk(struct bytes *b, const char *id, const void *data, size_t size)
{
    bytes_put(b, id, 4);
    bytes_number(b, size, 4);
    bytes_put(b, data, size);
    if (size % 2) bytes_put(b, "", 1);
}

static inline void bytes_save(const struct bytes *b, const char *path)
{
    FILE *out = fopen(path, "wb");
    assert_non_null(out);
    if (b->size) assert_int_equal(fwrite(b->data, 1, b->size, out), b->size);
    assert_int_equal(fclose(out), 0);
}

/* What the header says. Zeroes mean: what is right for the rest. */
struct wav {
    int tag, channels, rate, bits;
    size_t frames;
    int align, byte_rate, fmt_size;
    bool no_riff_size;
};

static inline void wav_fmt(struct bytes *b, const struct wav *w)
{
    int size = w->fmt_size ? w->fmt_size : 16;
    int align = w->align ? w->align : w->channels * w->bits / 8;
    bytes_put(b, "fmt ", 4);
    bytes_number(b, (uint64_t)size, 4);
    bytes_number(b, (uint64_t)w->tag, 2);
    bytes_number(b, (uint64_t)w->channels, 2);
    bytes_number(b, (uint64_t)w->rate, 4);
    bytes_number(b, (uint64_t)(w->byte_rate ? w->byte_rate : w->rate * align), 4);
    bytes_number(b, (uint64_t)align, 2);
    bytes_number(b, (uint64_t)w->bits, 2);
    if (size > 16) bytes_number(b, (uint64_t)(size - 18), 2);
    for (int i = 18; i < size; i++) bytes_number(b, 0, 1);
}

/* Sets the size after "RIFF" to what it should be. */
static inline void wav_end(struct bytes *b)
{
    for (int i = 0; i < 4; i++) b->data[4 + i] = (unsigned char)((b->size - 8) >> (8 * i));
}

/* A storm for machines: silence, then a click with a tail of noise each second,
 * from a small generator, as 16-bit samples. */
static inline void wav_storm(struct bytes *b, int channels, int rate, double seconds, uint32_t seed)
{
    size_t frames = (size_t)(seconds * rate);
    struct wav w = { .tag = 1, .channels = channels, .rate = rate, .bits = 16 };
    bytes_put(b, "RIFF\0\0\0\0WAVE", 12);
    wav_fmt(b, &w);
    bytes_put(b, "data", 4);
    bytes_number(b, frames * (size_t)channels * 2, 4);
    uint32_t state = seed * 2654435761u + 1;
    for (size_t i = 0; i < frames; i++) {
        double t = (double)i / rate, since = t - floor(t) - 0.4;
        double loud = since < 0 || (int)t % 4 == 3 ? 0.001 : 0.7 * exp(-since * 6);
        state = state * 1664525u + 1013904223u;
        int value = (int)(loud * ((double)(state >> 16) - 32768.0));
        for (int c = 0; c < channels; c++) bytes_number(b, (uint64_t)(uint16_t)value, 2);
    }
    wav_end(b);
}

#endif
