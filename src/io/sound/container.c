#include "io/sound/container.h"

#include <string.h>
#include <sys/stat.h>

#include "io/sound/declared_end.h"

enum { START = 64, CHUNKS_MOST = 1000, OGG_PAGE_MOST = 65307, MPEG_TAG_MOST = 64 };

/* ---- Kinds by their first bytes ---- */

static const struct {
    size_t at, size;
    const char *bytes;
    enum container_kind kind;
    const char *name;
} starts[] = {
    { 8, 4, "WAVE", CONTAINER_WAV, NULL }, /* RIFF, RIFX and RF64 are told apart below */
    { 8, 4, "AIFF", CONTAINER_AIFF, NULL },
    { 8, 4, "AIFC", CONTAINER_AIFF, NULL },
    { 8, 4, "8SVX", CONTAINER_SVX, NULL },
    { 8, 4, "16SV", CONTAINER_SVX, NULL },
    { 0, 8, "riff\x2E\x91\xCF\x11", CONTAINER_W64, NULL },
    { 0, 4, "caff", CONTAINER_CAF, NULL },
    { 0, 4, ".snd", CONTAINER_AU, NULL },
    { 0, 4, "OggS", CONTAINER_OGG, NULL },
    { 0, 4, "fLaC", CONTAINER_FLAC, NULL },
    { 0, 3, "ID3", CONTAINER_MPEG, NULL },
    { 4, 7, "ftypM4A", CONTAINER_FOREIGN, "MPEG-4 audio" },
    { 4, 7, "ftypM4B", CONTAINER_FOREIGN, "MPEG-4 audio" },
    { 0, 5, "#!AMR", CONTAINER_FOREIGN, "AMR speech" },
    { 0, 4, "wvpk", CONTAINER_FOREIGN, "WavPack" },
    { 0, 4, "MAC ", CONTAINER_FOREIGN, "Monkey's Audio" },
    { 0, 4, "DSD ", CONTAINER_FOREIGN, "DSD" },
};

/* Bytes of a frame of layer III by its header; 0 if it is none (ISO 11172-3,
 * 2.4.1.3, and 13818-3 for the lower sample rates). */
static int64_t mpeg_frame(const unsigned char *b)
{
    static const int rates[4] = { 44100, 48000, 32000, 0 };
    static const int kbits[2][16] = {
        { 0, 8, 16, 24, 32, 40, 48, 56, 64, 80, 96, 112, 128, 144, 160, 0 },
        { 0, 32, 40, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256, 320, 0 },
    };
    int version = b[1] >> 3 & 3, layer = b[1] >> 1 & 3, rate = rates[b[2] >> 2 & 3];
    bool full = version == 3;
    int kbit = kbits[full][b[2] >> 4];
    if (b[0] != 0xFF || b[1] < 0xE0 || version == 1 || layer != 1 || !rate || !kbit) return 0;
    rate /= full ? 1 : version == 2 ? 2 : 4;
    return (full ? 144 : 72) * 1000 * (int64_t)kbit / rate + (b[2] >> 1 & 1);
}

/* Two frames in a row: two bytes alone would take many a text for sound. */
static bool is_mpeg(FILE *file, int64_t at)
{
    unsigned char b[4];
    int64_t size;
    return !fseeko(file, at, SEEK_SET) && fread(b, 1, 4, file) == 4 && (size = mpeg_frame(b)) > 0
           && !fseeko(file, at + size, SEEK_SET) && fread(b, 1, 4, file) == 4 && mpeg_frame(b) > 0;
}

/* ---- Containers of chunks ---- */

static uint64_t number(const unsigned char *b, size_t size, bool big)
{
    uint64_t v = 0;
    for (size_t i = 0; i < size; i++) v |= (uint64_t)b[i] << 8 * (big ? size - 1 - i : i);
    return v;
}

/* How chunks look in a kind. */
struct chunks {
    enum container_kind kind;
    int64_t first;            /* where the first chunk stands */
    size_t id, size;          /* bytes of a chunk's name and of its size */
    bool big;                 /* the highest byte of a size comes first */
    bool with_head;           /* the size counts name and size too */
    int64_t align;
    const char *sound;        /* the name of the chunk with the sound */
};

static const struct chunks forms[] = {
    { CONTAINER_WAV,  12, 4,  4, false, false, 2, "data" },
    { CONTAINER_RIFX, 12, 4,  4, true,  false, 2, "data" },
    { CONTAINER_RF64, 12, 4,  4, false, false, 2, "data" },
    { CONTAINER_AIFF, 12, 4,  4, true,  false, 2, "SSND" },
    { CONTAINER_SVX,  12, 4,  4, true,  false, 2, "BODY" },
    { CONTAINER_W64,  40, 16, 8, false, true,  8, "data" },
};

static bool is_word(const unsigned char *b)
{
    for (int i = 0; i < 4; i++)
        if (b[i] < ' ' || b[i] > 126) return false;
    return true;
}

/* Whether a chunk stands at `at` that fits into the file. */
static bool chunk_follows(FILE *file, const struct chunks *f, int64_t at, int64_t end)
{
    unsigned char b[24];
    size_t head = f->id + f->size;
    if (end - at < (int64_t)head || fseeko(file, at, SEEK_SET) || fread(b, 1, head, file) != head) return false;
    uint64_t size = number(b + f->id, f->size, f->big);
    return is_word(b) && size <= (uint64_t)(end - at);
}

/* Sizes that writers to a pipe leave, who can't come back: none, all ones, or
 * about the most that a signed number holds. */
static bool means_open(uint64_t size, size_t bytes)
{
    if (bytes == 8) return size >= UINT64_C(0x7FFFFFFFFFFFF000);
    return size >= 0xFFFFF000 || (size >= 0x7FFFF000 && size <= 0x80000000);
}

static void fit_sound(FILE *file, const struct chunks *f, uint64_t declared, struct container *c)
{
    static const int64_t wrap = INT64_C(1) << 32;
    int64_t there = c->file_size - c->sound_at;
    c->sound_size = there;
    if (means_open(declared, f->size)) {
        c->fit = CONTAINER_OPEN;
        return;
    }
    int64_t size = declared > INT64_MAX / 2 ? INT64_MAX / 2 : (int64_t)declared;
    if (size > there) {
        c->fit = CONTAINER_CUT;
        return;
    }
    int64_t behind = there - (size + f->align - 1) / f->align * f->align;
    bool followed = behind > 0 && chunk_follows(file, f, c->file_size - behind, c->file_size);
    if (size == 0 && behind >= 8 && !followed) {
        c->fit = CONTAINER_OPEN;
        c->declares_nothing = true;
    } else if (behind >= wrap / 2 && f->size == 4 && !followed) {
        c->fit = CONTAINER_LONGER;
        int64_t wrapped = size + (there - size) / wrap * wrap; /* the field holds the size modulo 2^32 */
        if (wrapped > size && chunk_follows(file, f, c->sound_at + (wrapped + 1) / 2 * 2, c->file_size))
            c->sound_size = wrapped;
    } else {
        c->sound_size = size;
        c->fit = behind >= 8 && !followed ? CONTAINER_BEHIND : CONTAINER_WHOLE;
        c->behind = behind;
    }
}

static void look_at_chunks(FILE *file, const struct chunks *f, struct container *c)
{
    unsigned char b[24];
    size_t head = f->id + f->size;
    uint64_t long_size = 0; /* of RF64, from its first chunk */
    int64_t at = f->first;
    for (int n = 0; n < CHUNKS_MOST; n++) {
        if (fseeko(file, at, SEEK_SET) || fread(b, 1, head, file) != head) return;
        uint64_t size = number(b + f->id, f->size, f->big);
        if (f->with_head) size = size < head ? 0 : size - head;
        if (!memcmp(b, f->sound, 4)) {
            c->sound_at = at + (int64_t)head;
            if (f->kind == CONTAINER_RF64 && size == 0xFFFFFFFF) size = long_size ? long_size : size;
            fit_sound(file, f, size, c);
            return;
        }
        if (!memcmp(b, "ds64", 4) && fread(b, 1, 16, file) == 16) long_size = number(b + 8, 8, false);
        if (size > (uint64_t)c->file_size) return;
        at += (int64_t)head + ((int64_t)size + f->align - 1) / f->align * f->align;
    }
}

/* ---- The others ---- */

static void look_at_au(FILE *file, struct container *c)
{
    unsigned char b[12];
    if (fseeko(file, 0, SEEK_SET) || fread(b, 1, 12, file) != 12) return;
    c->sound_at = (int64_t)number(b + 4, 4, true);
    uint64_t declared = number(b + 8, 4, true);
    c->sound_size = c->file_size - c->sound_at;
    if (declared >= 0xFFFFF000) c->fit = CONTAINER_OPEN;
    else if ((int64_t)declared > c->sound_size) c->fit = CONTAINER_CUT;
    else if (declared > 0 && c->sound_size - (int64_t)declared >= 8) {
        c->fit = CONTAINER_BEHIND;
        c->behind = c->sound_size - (int64_t)declared;
    }
}

/* The last page says that it is the last, and is there as a whole. */
static void look_at_ogg(FILE *file, struct container *c)
{
    static unsigned char const mark[] = "OggS";
    unsigned char b[OGG_PAGE_MOST];
    int64_t from = c->file_size > (int64_t)sizeof b ? c->file_size - (int64_t)sizeof b : 0;
    if (fseeko(file, from, SEEK_SET)) return;
    size_t got = fread(b, 1, sizeof b, file);
    c->fit = CONTAINER_CUT;
    for (size_t at = got; at-- > 0;) {
        if (got - at < 27 || memcmp(b + at, mark, 4)) continue;
        size_t segments = b[at + 26], size = 27 + segments;
        for (size_t i = 0; i < segments && at + 27 + i < got; i++) size += b[at + 27 + i];
        c->last_granule = (int64_t)number(b + at + 6, 8, false);
        if ((b[at + 5] & 4) && size <= got - at) c->fit = CONTAINER_WHOLE;
        return;
    }
}

/* The first frame of a constant rate may be empty but for a tag, "Info", with
 * the length of the whole; "Xing" stands there where the rate varies. */
static void look_at_mpeg(FILE *file, struct container *c)
{
    unsigned char b[MPEG_TAG_MOST];
    int64_t at = 0;
    if (fseeko(file, 0, SEEK_SET) || fread(b, 1, 10, file) != 10) return;
    if (!memcmp(b, "ID3", 3)) at = 10 + (int64_t)(b[6] << 21 | b[7] << 14 | b[8] << 7 | b[9]);
    c->sound_at = at;
    if (fseeko(file, at, SEEK_SET)) return;
    size_t got = fread(b, 1, sizeof b, file);
    for (size_t i = 4; i + 4 <= got; i++) c->constant_rate |= !memcmp(b + i, "Info", 4);
}

void container_look(FILE *file, struct container *out)
{
    unsigned char b[START] = { 0 };
    struct stat st;
    *out = (struct container){ .last_granule = -1, .declared_size = -1 };
    if (fstat(fileno(file), &st) || fseeko(file, 0, SEEK_SET)) return;
    out->file_size = st.st_size;
    if (fread(b, 1, sizeof b, file) < 4) return;
    for (size_t i = 0; i < sizeof starts / sizeof *starts; i++) {
        if (memcmp(b + starts[i].at, starts[i].bytes, starts[i].size)) continue;
        out->kind = starts[i].kind;
        out->name = starts[i].name;
        break;
    }
    if (out->kind == CONTAINER_WAV)
        out->kind = !memcmp(b, "RIFF", 4) ? CONTAINER_WAV : !memcmp(b, "RIFX", 4) ? CONTAINER_RIFX
                    : !memcmp(b, "RF64", 4) ? CONTAINER_RF64 : CONTAINER_UNKNOWN;
    if ((out->kind == CONTAINER_AIFF || out->kind == CONTAINER_SVX) && memcmp(b, "FORM", 4))
        out->kind = CONTAINER_UNKNOWN;
    if (out->kind == CONTAINER_UNKNOWN && b[0] == 0xFF && is_mpeg(file, 0)) out->kind = CONTAINER_MPEG;
    for (size_t i = 0; i < sizeof forms / sizeof *forms; i++)
        if (forms[i].kind == out->kind) look_at_chunks(file, &forms[i], out);
    if (out->kind == CONTAINER_AU) look_at_au(file, out);
    if (out->kind == CONTAINER_OGG) look_at_ogg(file, out);
    if (out->kind == CONTAINER_MPEG) look_at_mpeg(file, out);
    if (out->kind == CONTAINER_UNKNOWN && (out->declared_size = declared_end(file)) > out->file_size)
        out->fit = CONTAINER_CUT;
}
