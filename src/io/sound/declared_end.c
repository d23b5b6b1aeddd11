#include "io/sound/declared_end.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

/* IRCAM, PAF and PVF have no length in their headers: one that is cut short
 * looks like a shorter one. Nor are the instruments of samplers (XI, MPC) looked
 * at. */

enum { HEAD = 128, NIST_HEAD = 1024, BLOCKS_MOST = 1000 };

static bool read_at(FILE *file, int64_t at, unsigned char *to, size_t size)
{
    return !fseeko(file, at, SEEK_SET) && fread(to, 1, size, file) == size;
}

static int64_t number(const unsigned char *b, int size, bool big)
{
    int64_t v = 0;
    for (int i = 0; i < size; i++) v |= (int64_t)b[i] << 8 * (big ? size - 1 - i : i);
    return v;
}

/* Blocks of a type and three bytes of size, as far as the first with sound (1, 9). */
static int64_t voc_end(FILE *file, const unsigned char *head)
{
    int64_t at = number(head + 20, 2, false);
    for (int n = 0; n < BLOCKS_MOST; n++) {
        unsigned char b[4];
        if (!read_at(file, at, b, sizeof b) || b[0] == 0) return -1;
        at += 4 + number(b + 1, 3, false);
        if (b[0] == 1 || b[0] == 9) return at;
    }
    return -1;
}

static int64_t avr_end(FILE *file, const unsigned char *head)
{
    (void)file;
    int64_t channels = number(head + 12, 2, true) ? 2 : 1, bits = number(head + 14, 2, true);
    return HEAD + number(head + 26, 4, true) * channels * bits / 8;
}

/* The value of a whole number in the header's lines; -1 if it is not there. */
static int64_t nist_field(const char *head, const char *name)
{
    const char *line = strstr(head, name);
    return line ? strtoll(line + strlen(name), NULL, 10) : -1;
}

static int64_t nist_end(FILE *file, const unsigned char *unused)
{
    char head[NIST_HEAD + 1] = "";
    (void)unused;
    if (!read_at(file, 0, (unsigned char *)head, NIST_HEAD)) return -1;
    int64_t size = nist_field(head, "NIST_1A\n"), frames = nist_field(head, "\nsample_count -i ");
    int64_t bytes = nist_field(head, "\nsample_n_bytes -i "), channels = nist_field(head, "\nchannel_count -i ");
    bool known = size > 0 && size <= 1 << 20 && frames > 0 && frames <= INT32_MAX && bytes > 0 && bytes <= 8
        && channels > 0
                 && channels <= 64;
    return known ? size + frames * bytes * channels : -1;
}

/* Elements of a type and a size. libsndfile counts eight bytes too many. */
static int64_t mat5_end(FILE *file, const unsigned char *head)
{
    bool big = head[126] == 'M';
    int64_t at = HEAD, end = -1;
    unsigned char b[8];
    for (int n = 0; n < 2 && read_at(file, at, b, sizeof b); n++) /* the sample rate, and the sound */
        at = end = at + 8 + number(b + 4, 4, big);
    return end - 8;
}

/* Matrices: type, rows, columns, an imaginary part, the length of the name. */
static int64_t mat4_end(FILE *file, const unsigned char *unused)
{
    static const int sizes[] = { 8, 4, 4, 2, 2, 1 };
    int64_t at = 0;
    unsigned char b[20];
    (void)unused;
    for (int n = 0; n < 2; n++) { /* the sample rate, and the sound */
        if (!read_at(file, at, b, sizeof b)) return -1;
        bool big = number(b, 4, true) >= 1000 && number(b, 4, true) < 2000;
        int64_t kind = number(b, 4, big) / 10 % 10, rows = number(b + 4, 4, big), columns = number(b + 8, 4, big);
        if (kind >= (int)(sizeof sizes / sizeof *sizes) || rows > INT32_MAX || columns > INT32_MAX / 8) return -1;
        at += (int64_t)sizeof b + number(b + 16, 4, big) + rows * columns * sizes[kind];
    }
    return at;
}

/* Packets of 127 bytes, 120 of them words of 7 bits a byte (MIDI Sample Dump Standard). */
static int64_t sds_end(FILE *file, const unsigned char *head)
{
    (void)file;
    int64_t bits = head[6], bytes = bits <= 14 ? 2 : bits <= 21 ? 3 : 4;
    int64_t words = head[10] | (int64_t)head[11] << 7 | (int64_t)head[12] << 14;
    return 21 + (words * bytes + 119) / 120 * 127;
}

static int64_t wve_end(FILE *file, const unsigned char *head)
{
    (void)file;
    return 32 + number(head + 18, 4, true);
}

static const struct {
    size_t at, size;
    const char *bytes;
    int64_t (*end)(FILE *file, const unsigned char *head);
} kinds[] = {
    { 0, 19, "Creative Voice File", voc_end },
    { 0, 4, "2BIT", avr_end },
    { 0, 8, "NIST_1A\n", nist_end },
    { 0, 10, "MATLAB 5.0", mat5_end },
    { 0, 2, "\xF0\x7E", sds_end },
    { 20, 10, "samplerate", mat4_end },
    { 0, 16, "ALawSoundFile**\0", wve_end },
};

int64_t declared_end(FILE *file)
{
    unsigned char head[HEAD];
    if (!read_at(file, 0, head, sizeof head)) return -1;
    for (size_t i = 0; i < sizeof kinds / sizeof *kinds; i++)
        if (!memcmp(head + kinds[i].at, kinds[i].bytes, kinds[i].size)) return kinds[i].end(file, head);
    return -1;
}
