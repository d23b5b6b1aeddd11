/* Recordings, good and malformed: what is read, what is said. Rows follow the
 * RIFF/WAVE specification (IBM & Microsoft 1991), RF64 (EBU Tech 3306) and
 * what interrupted, piped and careless writers leave (common practice). */
#include "check.h"
#include "scratch.h"
#include "wav.h"

#include <pthread.h>
#include <sys/stat.h>

#include "app/clip/listen_file.h"
#include <sndfile.h>

#include "io/sound/sound_kind.h"
#include "io/sound/source.h"

enum { RATE = 8000, FRAMES = 400 };

/* ---- Makers of files: `w` is a plain 16-bit mono file unless a row says else ---- */

static void head(struct bytes *b, const char *form)
{
    bytes_put(b, form, 4);
    bytes_number(b, 0, 4);
    bytes_put(b, "WAVE", 4);
}

static void samples(struct bytes *b, const struct wav *w, size_t size)
{
    for (size_t i = 0; i < size; i++) {
        int value = (int)(i * 37 % 251);
        bytes_number(b, (uint64_t)(w->bits == 8 ? 128 + value / 4 : i % 2 ? value % 32 : value), 1);
    }
}

static size_t data_size(const struct wav *w)
{
    return w->frames * (size_t)(w->align ? w->align : w->channels * w->bits / 8);
}

static void data(struct bytes *b, const struct wav *w)
{
    bytes_put(b, "data", 4);
    bytes_number(b, data_size(w), 4);
    samples(b, w, data_size(w));
}

static void plain(struct bytes *b, const struct wav *w)
{
    head(b, "RIFF");
    wav_fmt(b, w);
    data(b, w);
    wav_end(b);
}

static void empty(struct bytes *b, const struct wav *w) { (void)b, (void)w; }
static void one_byte(struct bytes *b, const struct wav *w) { (void)w; bytes_put(b, "R", 1); }
static void riff_alone(struct bytes *b, const struct wav *w) { (void)w; head(b, "RIFF"); }
static void text_file(struct bytes *b, const struct wav *w)
{
    (void)w;
    bytes_put(b, "kind,start_s\r\ncrack,1.0\r\n", 25);
}
static void fmt_alone(struct bytes *b, const struct wav *w) { head(b, "RIFF"); wav_fmt(b, w); wav_end(b); }

static void data_alone(struct bytes *b, const struct wav *w)
{
    head(b, "RIFF");
    data(b, w);
    wav_end(b);
}

static void fmt_after_data(struct bytes *b, const struct wav *w)
{
    head(b, "RIFF");
    data(b, w);
    wav_fmt(b, w);
    wav_end(b);
}

static void claims(struct bytes *b, const struct wav *w, uint64_t claimed)
{
    head(b, "RIFF");
    wav_fmt(b, w);
    bytes_put(b, "data", 4);
    bytes_number(b, claimed, 4);
    samples(b, w, data_size(w));
    wav_end(b);
}

static void claims_zero(struct bytes *b, const struct wav *w) { claims(b, w, 0); }
static void claims_all_ones(struct bytes *b, const struct wav *w) { claims(b, w, 0xFFFFFFFF); }
static void claims_double(struct bytes *b, const struct wav *w) { claims(b, w, 2 * data_size(w)); }
static void claims_more_than_2_gib(struct bytes *b, const struct wav *w) { claims(b, w, 0x80000010); }

static void claims_2_gib(struct bytes *b, const struct wav *w) { claims(b, w, 0x80000000); }
static void claims_half(struct bytes *b, const struct wav *w) { claims(b, w, data_size(w) / 2); }

static void chunk_after_no_data(struct bytes *b, const struct wav *w)
{
    head(b, "RIFF");
    wav_fmt(b, w);
    bytes_chunk(b, "data", "", 0);
    bytes_chunk(b, "LIST", "INFOICMT\4\0\0\0abc", 16);
    wav_end(b);
}

static void riff_size_wrong(struct bytes *b, const struct wav *w)
{
    plain(b, w);
    memcpy(b->data + 4, "\x10\0\0\0", 4);
}

static void riff_size_zero(struct bytes *b, const struct wav *w)
{
    plain(b, w);
    memcpy(b->data + 4, "\0\0\0\0", 4);
}

static void last_frame_cut(struct bytes *b, const struct wav *w)
{
    plain(b, w);
    b->size -= 1;
}

static void odd_without_pad(struct bytes *b, const struct wav *w)
{
    head(b, "RIFF");
    wav_fmt(b, w);
    bytes_put(b, "LIST", 4);
    bytes_number(b, 5, 4);
    bytes_put(b, "INFOx", 6);
    bytes_put(b, "data", 4);
    bytes_number(b, data_size(w) - 1, 4);
    samples(b, w, data_size(w) - 1);
    wav_end(b);
}

static void other_chunks_between(struct bytes *b, const struct wav *w)
{
    head(b, "RIFF");
    bytes_chunk(b, "JUNK", "0123456789012345678901234567", 28);
    wav_fmt(b, w);
    bytes_chunk(b, "LIST", "INFOICMT\4\0\0\0abc", 16);
    bytes_chunk(b, "thnd", "unknown", 7);
    bytes_chunk(b, "cue ", "\0\0\0\0", 4);
    data(b, w);
    wav_end(b);
}

static void two_data_chunks(struct bytes *b, const struct wav *w)
{
    head(b, "RIFF");
    wav_fmt(b, w);
    data(b, w);
    data(b, w);
    wav_end(b);
}

static void chunk_beyond_the_end(struct bytes *b, const struct wav *w)
{
    head(b, "RIFF");
    wav_fmt(b, w);
    bytes_put(b, "LIST\xF0\xFF\xFF\x7F", 8);
    data(b, w);
    wav_end(b);
}

static void fmt_cut(struct bytes *b, const struct wav *w)
{
    head(b, "RIFF");
    wav_fmt(b, w);
    b->size -= 6;
}

/* The real tag stands in the first two bytes of a 16-byte identifier. */
static void extensible(struct bytes *b, const struct wav *w)
{
    struct wav inner = *w;
    inner.tag = 0xFFFE;
    inner.fmt_size = 18;
    head(b, "RIFF");
    wav_fmt(b, &inner);
    b->data[16] = 40;
    b->data[36] = 22;
    bytes_number(b, (uint64_t)w->bits, 2);
    bytes_number(b, 4, 4);
    bytes_number(b, (uint64_t)w->tag, 2);
    bytes_put(b, "\0\0\0\0\x10\0\x80\0\0\xAA\0\x38\x9B\x71", 14);
    data(b, w);
    wav_end(b);
}

static void rf64(struct bytes *b, const struct wav *w)
{
    head(b, "RF64");
    bytes_put(b, "ds64", 4);
    bytes_number(b, 28, 4);
    bytes_number(b, 12 + 36 + 24 + 8 + data_size(w) - 8, 8);
    bytes_number(b, data_size(w), 8);
    bytes_number(b, w->frames, 8);
    bytes_number(b, 0, 4);
    wav_fmt(b, w);
    bytes_put(b, "data\xFF\xFF\xFF\xFF", 8);
    samples(b, w, data_size(w));
    memcpy(b->data + 4, "\xFF\xFF\xFF\xFF", 4);
}

static void big_endian(struct bytes *b, const struct wav *w)
{
    bytes_put(b, "RIFX", 4);
    size_t size = data_size(w);
    uint32_t riff = (uint32_t)(4 + 24 + 8 + size);
    unsigned char fixed[] = {
        (unsigned char)(riff >> 24), (unsigned char)(riff >> 16), (unsigned char)(riff >> 8), (unsigned char)riff,
        'W', 'A', 'V', 'E', 'f', 'm', 't', ' ', 0, 0, 0, 16, 0, 1, 0, 1, 0, 0, 0x1F, 0x40, 0, 0, 0x3E, 0x80, 0, 2, 0,
        16,
        'd', 'a', 't', 'a', 0, 0, (unsigned char)(size >> 8), (unsigned char)size,
    };
    bytes_put(b, fixed, sizeof fixed);
    samples(b, w, size);
}

/* A file of 32-bit floats, these by turns. */
static void put_floats(struct bytes *b, const struct wav *w, const float *values, size_t count)
{
    head(b, "RIFF");
    wav_fmt(b, w);
    bytes_put(b, "data", 4);
    bytes_number(b, w->frames * 4, 4);
    for (size_t i = 0; i < w->frames; i++) bytes_put(b, &values[i % count], 4);
    wav_end(b);
}

static void floats(struct bytes *b, const struct wav *w)
{
    static const float values[] = { 0.5f, -0.5f, 1.5f, -3.0f, 1e-42f, 0, 1e30f, 0.25f };
    put_floats(b, w, values, COUNT(values));
}

static void not_numbers(struct bytes *b, const struct wav *w)
{
    static const float values[] = { 0.5f, NAN, -INFINITY, INFINITY };
    put_floats(b, w, values, COUNT(values));
}

/* ---- The table ---- */

#define PCM16 { .tag = 1, .channels = 1, .rate = RATE, .bits = 16, .frames = FRAMES }
#define NOT "not a recording that can be read"
#define CUT "the file ends before its header says it would"

/* OK rows: sample frames read and the remark; others: what the message says. */
static const struct row {
    const char *name;
    void (*make)(struct bytes *, const struct wav *);
    struct wav w;
    enum tc_status status;
    long frames;
    const char *says;
} rows[] = {
    { "plain", plain, PCM16, TC_OK, FRAMES, "" },
    { "empty file", empty, PCM16, TC_ERR_READ, 0, "is empty" },
    { "one byte", one_byte, PCM16, TC_ERR_READ, 0, NOT },
    { "a text file with a sound's ending", text_file, PCM16, TC_ERR_READ, 0, NOT },
    { "12 bytes, no chunk", riff_alone, PCM16, TC_ERR_READ, 0, NOT },
    { "header of 44 bytes, no data", plain, { .tag = 1, .channels = 1, .rate = RATE, .bits = 16 }, TC_OK, 0, "" },
    { "one sample", plain, { .tag = 1, .channels = 1, .rate = RATE, .bits = 16, .frames = 1 }, TC_OK, 1, "" },
    { "fmt, but no data chunk", fmt_alone, PCM16, TC_ERR_READ, 0, NOT },
    { "data, but no fmt chunk", data_alone, PCM16, TC_ERR_READ, 0, NOT },
    { "fmt after data", fmt_after_data, PCM16, TC_ERR_READ, 0, NOT },
    { "fmt cut in the middle", fmt_cut, PCM16, TC_ERR_READ, 0, NOT },
    { "data size 0 by an interrupted writer", claims_zero, PCM16, TC_OK, FRAMES, "header was left unfinished" },
    { "no data, but a chunk behind it", chunk_after_no_data, PCM16, TC_OK, 0, "" },
    { "data size all ones by a piped writer", claims_all_ones, PCM16, TC_OK, FRAMES, "" },
    { "data size beyond 2 GiB", claims_more_than_2_gib, PCM16, TC_OK, FRAMES, CUT },
    { "data size of a recorder without end", claims_2_gib, PCM16, TC_OK, FRAMES, "" },
    { "more bytes than are declared", claims_half, PCM16, TC_OK, FRAMES / 2, "400 bytes after the sound that its header declares were left out" },
    { "data larger than the file", claims_double, PCM16, TC_OK, FRAMES, CUT },
    { "RIFF size wrong", riff_size_wrong, PCM16, TC_OK, FRAMES, "" },
    { "RIFF size 0", riff_size_zero, PCM16, TC_OK, FRAMES, "" },
    { "last sample cut in half", last_frame_cut, PCM16, TC_OK, FRAMES - 1, CUT },
    { "odd sizes, the last without its pad byte", odd_without_pad, PCM16, TC_OK, FRAMES - 1, "" },
    { "other chunks before and between", other_chunks_between, PCM16, TC_OK, FRAMES, "" },
    { "two data chunks", two_data_chunks, PCM16, TC_ERR_READ, 0, "its header makes no sense" },
    { "a chunk that reaches beyond the end", chunk_beyond_the_end, PCM16, TC_ERR_READ, 0, NOT },
    { "fmt of 18 bytes", plain, { .tag = 1, .channels = 1, .rate = RATE, .bits = 16, .frames = FRAMES, .fmt_size = 18 }, TC_OK, FRAMES, "" },
    { "fmt of 40 bytes for PCM", plain, { .tag = 1, .channels = 1, .rate = RATE, .bits = 16, .frames = FRAMES, .fmt_size = 40 }, TC_OK, FRAMES, "" },
    { "8 bits, unsigned", plain, { .tag = 1, .channels = 1, .rate = RATE, .bits = 8, .frames = FRAMES }, TC_OK, FRAMES, "" },
    { "24 bits, stereo", plain, { .tag = 1, .channels = 2, .rate = 44100, .bits = 24, .frames = FRAMES }, TC_OK, FRAMES, "" },
    { "32 bits, 8 channels", plain, { .tag = 1, .channels = 8, .rate = 48000, .bits = 32, .frames = FRAMES }, TC_OK, FRAMES, "" },
    { "192 kHz", plain, { .tag = 1, .channels = 1, .rate = 192000, .bits = 16, .frames = FRAMES }, TC_OK, FRAMES, "" },
    { "A-law", plain, { .tag = 6, .channels = 1, .rate = RATE, .bits = 8, .frames = FRAMES }, TC_OK, FRAMES, "" },
    { "mu-law", plain, { .tag = 7, .channels = 1, .rate = RATE, .bits = 8, .frames = FRAMES }, TC_OK, FRAMES, "" },
    { "extensible PCM", extensible, PCM16, TC_OK, FRAMES, "" },
    { "extensible with an unknown inner tag", extensible, { .tag = 0x7777, .channels = 1, .rate = RATE, .bits = 16, .frames = FRAMES }, TC_ERR_READ, 0, NOT },
    { "floats beyond full scale and denormal", floats, { .tag = 3, .channels = 1, .rate = RATE, .bits = 32, .frames = FRAMES }, TC_OK, FRAMES, "50 samples were not valid numbers, or far too loud" },
    { "NaN and infinities", not_numbers, { .tag = 3, .channels = 1, .rate = RATE, .bits = 32, .frames = FRAMES }, TC_OK, FRAMES, "300 samples were not valid numbers" },
    { "RF64", rf64, PCM16, TC_OK, FRAMES, "" },
    { "RIFX", big_endian, PCM16, TC_OK, FRAMES, "" },
    { "no channels", plain, { .tag = 1, .channels = 0, .rate = RATE, .bits = 16, .frames = FRAMES, .align = 2 }, TC_ERR_READ, 0, NOT },
    { "65535 channels", plain, { .tag = 1, .channels = 65535, .rate = RATE, .bits = 16, .frames = 1 }, TC_ERR_READ, 0, "" },
    { "200 channels", plain, { .tag = 1, .channels = 200, .rate = RATE, .bits = 16, .frames = 2 }, TC_ERR_READ, 0, "200 channels; 1 to 64" },
    { "rate 0", plain, { .tag = 1, .channels = 1, .rate = 0, .bits = 16, .frames = FRAMES }, TC_ERR_READ, 0, "" },
    { "rate 999", plain, { .tag = 1, .channels = 1, .rate = 999, .bits = 16, .frames = FRAMES }, TC_ERR_READ, 0, "sample rate of 999 Hz" },
    { "rate 2 GHz", plain, { .tag = 1, .channels = 1, .rate = 0x7FFFFFFF, .bits = 16, .frames = FRAMES, .byte_rate = 16000 }, TC_ERR_READ, 0, "sample rate of 2147483647 Hz" },
    { "0 bits", plain, { .tag = 1, .channels = 1, .rate = RATE, .bits = 0, .frames = FRAMES, .align = 2 }, TC_ERR_READ, 0, "" },
    { "unknown tag", plain, { .tag = 0x1234, .channels = 1, .rate = RATE, .bits = 16, .frames = FRAMES }, TC_ERR_READ, 0, NOT },
    { "byte rate inconsistent", plain, { .tag = 1, .channels = 1, .rate = RATE, .bits = 16, .frames = FRAMES, .byte_rate = 1 }, TC_OK, FRAMES, "" },
    { "block alignment 0", plain, { .tag = 1, .channels = 1, .rate = RATE, .bits = 16, .frames = FRAMES, .align = 0x10000 }, TC_OK, -1, "" },
};

static long read_all(struct source *s)
{
    static float block[64 * 64];
    long frames = 0;
    for (size_t n; (n = source_read(s, block, 64)) > 0; frames += (long)n)
        for (size_t i = 0; i < n * (size_t)source_channels(s); i++) assert_true(isfinite(block[i]));
    return frames;
}

static void every_kind_of_file_has_its_outcome(void **state)
{
    (void)state;
    int wrong = 0;
    for (size_t i = 0; i < COUNT(rows); i++) {
        const struct row *r = &rows[i];
        struct bytes b = { 0 };
        r->make(&b, &r->w);
        bytes_save(&b, scratch_at("clip.wav"));
        free(b.data);

        struct source *s;
        struct tc_problem why = { "" }, remark = { "" };
        enum tc_status status = source_open(&s, scratch_at("clip.wav"), &why);
        long frames = 0;
        if (status == TC_OK) {
            frames = read_all(s);
            source_remark(s, &remark);
            source_close(s);
        } else {
            assert_non_null(strstr(why.text, "clip.wav: "));
            assert_null(strchr(why.text, '\n'));
        }
        const char *said = status == TC_OK ? remark.text : why.text;
        bool right = status == r->status && (r->frames < 0 || frames == r->frames)
                     && (*r->says ? strstr(said, r->says) != NULL : status != TC_OK || !*said);
        if (!right) print_message("%s: status %d, %ld frames, said '%s'\n", r->name, status, frames, said);
        wrong += !right;
    }
    assert_int_equal(wrong, 0);
}

static void a_file_cut_anywhere_never_harms(void **state)
{
    (void)state;
    static const struct wav w = PCM16;
    struct bytes b = { 0 };
    other_chunks_between(&b, &w);
    size_t whole = b.size;
    for (size_t size = 0; size < whole; size += size < 200 ? 1 : 37) {
        b.size = size;
        bytes_save(&b, scratch_at("cut.wav"));
        struct source *s;
        struct tc_problem why = { "" };
        enum tc_status status = source_open(&s, scratch_at("cut.wav"), &why);
        if (status == TC_OK) {
            assert_true(read_all(s) <= FRAMES);
            source_close(s);
        } else {
            assert_int_equal(status, TC_ERR_READ);
        }
    }
    free(b.data);
}

static void a_recording_without_sound_has_status_3(void **state)
{
    (void)state;
    static const struct wav w = { .tag = 1, .channels = 1, .rate = RATE, .bits = 16 };
    struct bytes b = { 0 };
    plain(&b, &w);
    bytes_save(&b, scratch_at("silent.wav"));
    free(b.data);
    struct tc_settings settings = tc_settings_default();
    struct tc_analysis heard;
    struct tc_problem why = { "" };
    assert_int_equal(listen_file(scratch_at("silent.wav"), &settings, &heard, NULL, &why), TC_ERR_READ);
    assert_non_null(strstr(why.text, "silent.wav: there is no sound in it"));
    tc_analysis_clear(&heard);
}

static void what_is_no_file_is_named_with_its_reason(void **state)
{
    (void)state;
    static char deep[4001];
    memset(deep, 'x', sizeof deep - 1);
    for (size_t i = 100; i < sizeof deep - 1; i += 100) deep[i] = '/';
    mkdir(scratch_at("folder"), 0777);
    mkfifo(scratch_at("pipe"), 0666);
    assert_int_equal(symlink("loop", scratch_at("loop")), 0);
    assert_int_equal(symlink("nowhere", scratch_at("dangling")), 0);
    const struct { const char *name, *says; } odd[] = {
        { "missing.wav", "No such file" }, { "folder", "is a folder; `thundercue batch`" }, { "pipe", "is not a file; for a pipe use '-'" },
        { "loop", "symbolic links" }, { "dangling", "No such file" }, { deep, "No such file" }, { "line\nbreak", "line?break: No such file" },
        { "\xFF.wav", "?.wav: No such" },
    };
    for (size_t i = 0; i < COUNT(odd); i++) {
        struct source *s;
        struct tc_problem why = { "" };
        assert_int_equal(source_open(&s, scratch_at(odd[i].name), &why), TC_ERR_READ);
        assert_null(s);
        if (!strstr(why.text, odd[i].says)) fail_msg("'%s' lacks '%s'", why.text, odd[i].says);
    }
    struct source *s;
    assert_int_equal(source_open(&s, "/dev/zero", NULL), TC_ERR_READ);
}

/* libsndfile keeps the reason of a failed open in one place for all threads:
 * while others open good files, a bad one must still get its own reason. */
static void *open_good_ones(void *path)
{
    for (int i = 0; i < 300; i++) {
        struct source *s;
        if (source_open(&s, path, NULL) != TC_OK) return path;
        source_close(s);
    }
    return NULL;
}

static void reasons_are_right_with_many_threads(void **state)
{
    (void)state;
    static const struct wav w = PCM16;
    static char good[16384];
    struct bytes b = { 0 };
    plain(&b, &w);
    snprintf(good, sizeof good, "%s", scratch_at("good.wav"));
    bytes_save(&b, good);
    b.size = 12;
    bytes_save(&b, scratch_at("bad.wav"));
    free(b.data);
    pthread_t threads[3];
    for (int i = 0; i < 3; i++) assert_int_equal(pthread_create(&threads[i], NULL, open_good_ones, good), 0);
    int vague = 0;
    for (int i = 0; i < 300; i++) {
        struct source *s;
        struct tc_problem why = { "" };
        assert_int_equal(source_open(&s, scratch_at("bad.wav"), &why), TC_ERR_READ);
        vague += strstr(why.text, "No Error") != NULL;
    }
    for (int i = 0; i < 3; i++) {
        void *failed = good;
        pthread_join(threads[i], &failed);
        assert_null(failed);
    }
    assert_int_equal(vague, 0);
}

/* ---- Other forms, written by libsndfile ---- */

static void write_sound(const char *path, int format, int rate, int channels, sf_count_t frames, double quality,
                        int mode)
{
    SF_INFO info = { .samplerate = rate, .channels = channels, .format = format };
    SNDFILE *out = sf_open(path, SFM_WRITE, &info);
    assert_non_null(out);
    sf_command(out, SFC_SET_BITRATE_MODE, &mode, sizeof mode);
    sf_command(out, SFC_SET_COMPRESSION_LEVEL, &quality, sizeof quality);
    uint32_t noise = 7; /* a congruential generator (Numerical Recipes); quiet every other second */
    for (sf_count_t i = 0; i < frames; i++) {
        float block[8];
        noise = noise * 1664525u + 1013904223u;
        float v = ((float)(noise >> 8) / 8388608.0f - 1) * (i / rate % 2 ? 0.01f : 0.5f);
        for (int c = 0; c < channels; c++) block[c] = v;
        sf_writef_float(out, block, 1);
    }
    assert_int_equal(sf_close(out), 0);
}

static long frames_of(const char *path, struct tc_problem *remark, const char **type)
{
    struct source *s;
    struct tc_problem why = { "" };
    if (source_open(&s, path, &why) != TC_OK) fail_msg("%s", why.text);
    if (type) *type = source_browser_type(s);
    long frames = read_all(s);
    source_remark(s, remark);
    source_close(s);
    return frames;
}

static void every_form_that_is_cut_short_says_so(void **state)
{
    (void)state;
    static const struct { const char *name; int format; const char *says; } forms[] = {
        { "aiff", SF_FORMAT_AIFF | SF_FORMAT_PCM_16, CUT }, { "w64", SF_FORMAT_W64 | SF_FORMAT_PCM_16, CUT },
        { "rf64", SF_FORMAT_RF64 | SF_FORMAT_PCM_16, CUT }, { "au", SF_FORMAT_AU | SF_FORMAT_PCM_16, CUT },
        { "wav", SF_FORMAT_WAV | SF_FORMAT_PCM_24, CUT },
        { "voc", SF_FORMAT_VOC | SF_FORMAT_PCM_16, CUT }, { "avr", SF_FORMAT_AVR | SF_FORMAT_PCM_16, CUT },
        { "avr", SF_FORMAT_AVR | SF_FORMAT_PCM_S8, CUT }, { "sph", SF_FORMAT_NIST | SF_FORMAT_PCM_16, CUT },
        { "sph", SF_FORMAT_NIST | SF_FORMAT_PCM_24, CUT }, { "iff", SF_FORMAT_SVX | SF_FORMAT_PCM_16, CUT },
        { "iff", SF_FORMAT_SVX | SF_FORMAT_PCM_S8, CUT }, { "mat", SF_FORMAT_MAT4 | SF_FORMAT_PCM_16, CUT },
        { "mat", SF_FORMAT_MAT4 | SF_ENDIAN_BIG | SF_FORMAT_DOUBLE, CUT }, { "mat", SF_FORMAT_MAT5 | SF_FORMAT_PCM_16, CUT },
        { "mat", SF_FORMAT_MAT5 | SF_ENDIAN_BIG | SF_FORMAT_FLOAT, CUT }, { "sds", SF_FORMAT_SDS | SF_FORMAT_PCM_S8, CUT },
        { "sds", SF_FORMAT_SDS | SF_FORMAT_PCM_16, CUT }, { "sds", SF_FORMAT_SDS | SF_FORMAT_PCM_24, CUT },
        { "flac", SF_FORMAT_FLAC | SF_FORMAT_PCM_16, CUT }, { "ogg", SF_FORMAT_OGG | SF_FORMAT_VORBIS, "the file ends before its sound does" },
        { "opus", SF_FORMAT_OGG | SF_FORMAT_OPUS, "the file ends before its sound does" },
    };
    enum { SECONDS = 3, HZ = 48000 };
    for (size_t i = 0; i < COUNT(forms); i++) {
        char path[300];
        struct tc_problem remark = { "" };
        snprintf(path, sizeof path, "%s/form.%s", scratch_folder(), forms[i].name);
        write_sound(path, forms[i].format, HZ, 1, SECONDS * HZ, 0.5, SF_BITRATE_MODE_VARIABLE);
        long whole = frames_of(path, &remark, NULL);
        if (*remark.text) fail_msg("a whole %s: %s", forms[i].name, remark.text);
        assert_int_equal(whole, SECONDS * HZ);
        struct stat st;
        assert_int_equal(stat(path, &st), 0);
        assert_int_equal(truncate(path, st.st_size * 2 / 3), 0);
        long cut = frames_of(path, &remark, NULL);
        if (!strstr(remark.text, forms[i].says)) fail_msg("a cut %s: '%s'", forms[i].name, remark.text);
        if (cut <= 0 || cut > whole * 3 / 4)
            fail_msg("a cut %s (%x): %ld of %ld frames", forms[i].name, (unsigned)forms[i].format, cut, whole);
    }
}

/* What Chromium played from the same sample on, as long, and found again after
 * a jump within 0.05 s (measured). */
static void only_what_browsers_keep_in_time_goes_in_as_it_is(void **state)
{
    (void)state;
    static const struct { int format, rate, channels; const char *type; } kinds[] = {
        { SF_FORMAT_WAV | SF_FORMAT_PCM_16, 44100, 2, "audio/wav" },   { SF_FORMAT_WAV | SF_FORMAT_PCM_24, 48000, 1, "audio/wav" },
        { SF_FORMAT_WAV | SF_FORMAT_FLOAT, 44100, 1, NULL },           { SF_FORMAT_WAV | SF_FORMAT_PCM_16, 44100, 6, NULL },
        { SF_FORMAT_WAV | SF_FORMAT_PCM_16, 192000, 1, NULL },         { SF_FORMAT_FLAC | SF_FORMAT_PCM_16, 8000, 1, "audio/flac" },
        { SF_FORMAT_OGG | SF_FORMAT_VORBIS, 44100, 2, "audio/ogg" },   { SF_FORMAT_OGG | SF_FORMAT_OPUS, 48000, 2, "audio/ogg" },
        { SF_FORMAT_AIFF | SF_FORMAT_PCM_16, 44100, 1, NULL },
    };
    for (size_t i = 0; i < COUNT(kinds); i++) {
        struct tc_problem remark = { "" };
        const char *type;
        write_sound(scratch_at("kind"), kinds[i].format, kinds[i].rate, kinds[i].channels, kinds[i].rate, 0.5,
                    SF_BITRATE_MODE_VARIABLE);
        assert_int_equal(frames_of(scratch_at("kind"), &remark, &type), kinds[i].rate);
        bool right = kinds[i].type ? type && !strcmp(type, kinds[i].type) : !type;
        if (!right) fail_msg("row %zu: %s", i, type ? type : "none");
    }
}

/* A pipe's writer leaves sizes that say nothing, others the size modulo 2^32:
 * a file of 5 GiB that takes no room, since it is one hole. */
static void more_than_4_gib_of_wav_are_all_there(void **state)
{
    (void)state;
    static const uint32_t declared[] = { 0, 0xFFFFFFFF, 0x7FFFF000, 0x40000000 /* 5 GiB less 4 GiB */ };
    static const struct wav w = { .tag = 1, .channels = 64, .rate = 192000, .bits = 16 };
    const int64_t size = INT64_C(5) << 30;
    for (size_t i = 0; i < COUNT(declared); i++) {
        struct bytes b = { 0 };
        head(&b, "RIFF");
        wav_fmt(&b, &w);
        bytes_put(&b, "data", 4);
        bytes_number(&b, declared[i], 4);
        bytes_save(&b, scratch_at("huge.wav"));
        if (truncate(scratch_at("huge.wav"), (off_t)b.size + size)) {
            print_message("no file of 5 GiB can be made here: skipped\n");
            free(b.data);
            skip();
        }
        free(b.data);
        struct source *s;
        struct tc_problem why = { "" };
        if (source_open(&s, scratch_at("huge.wav"), &why) != TC_OK) fail_msg("%s", why.text);
        if (source_frames(s) != size / 128) fail_msg("%08x: %lld frames", declared[i], (long long)source_frames(s));
        static float block[64 * 64];
        assert_int_equal(source_read(s, block, 64), 64);
        assert_null(source_browser_type(s));
        source_close(s);
    }
}

/* Without a tag the decoder guesses an MP3's length from its first frames. */
static void an_mp3_without_a_tag_is_read_to_its_end(void **state)
{
    (void)state;
    enum { SECONDS = 6, HZ = 44100 };
    const int modes[] = { SF_BITRATE_MODE_CONSTANT, SF_BITRATE_MODE_VARIABLE };
    for (size_t m = 0; m < COUNT(modes); m++) {
        struct tc_problem remark = { "" };
        const char *type;
        write_sound(scratch_at("tagged.mp3"), SF_FORMAT_MPEG | SF_FORMAT_MPEG_LAYER_III, HZ, 1, SECONDS * HZ, 0.6,
                    modes[m]);
        assert_int_equal(frames_of(scratch_at("tagged.mp3"), &remark, &type), SECONDS * HZ);
        assert_string_equal(remark.text, "");
        /* only a constant rate is found again where it is looked for */
        if (modes[m] == SF_BITRATE_MODE_CONSTANT) assert_string_equal(type, "audio/mpeg");
        else assert_null(type);

        size_t size = 0, next = 4;
        char *bytes = scratch_read(scratch_at("tagged.mp3"), &size);
        while (memcmp(bytes + next, "\xFF\xFB", 2)) next++; /* the second frame: the first is the tag */
        struct bytes b = { 0 };
        bytes_put(&b, bytes + next, size - next);
        free(bytes);
        bytes_save(&b, scratch_at("plain.mp3"));
        free(b.data);
        long frames = frames_of(scratch_at("plain.mp3"), &remark, &type);
        assert_in_range(frames, SECONDS * HZ, SECONDS * HZ + 4 * 1152);
        assert_string_equal(remark.text, "");
        assert_null(type);
    }
}

/* What the bytes of a file can say wrong is not shown, and standard error
 * stays empty: libmpg123 writes there. */
static void a_broken_mp3_prints_nothing(void **state)
{
    (void)state;
    size_t size = 0;
    struct tc_problem remark = { "" };
    write_sound(scratch_at("good.mp3"), SF_FORMAT_MPEG | SF_FORMAT_MPEG_LAYER_III, 44100, 1, 88200, 0.6,
                SF_BITRATE_MODE_CONSTANT);
    char *bytes = scratch_read(scratch_at("good.mp3"), &size);
    for (size_t i = 700; i < size; i += 61) bytes[i] = (char)(bytes[i] ^ 0x5A);
    struct bytes b = { 0 };
    bytes_put(&b, bytes, size);
    free(bytes);
    bytes_save(&b, scratch_at("broken.mp3"));
    free(b.data);
    fflush(stderr);
    int saved = dup(STDERR_FILENO);
    FILE *said = tmpfile();
    assert_non_null(said);
    dup2(fileno(said), STDERR_FILENO);
    long frames = frames_of(scratch_at("broken.mp3"), &remark, NULL);
    dup2(saved, STDERR_FILENO);
    close(saved);
    struct stat st;
    assert_int_equal(fstat(fileno(said), &st), 0);
    fclose(said);
    assert_true(frames > 0);
    assert_int_equal(st.st_size, 0);
}

static void what_looks_like_sound_is_known(void **state)
{
    (void)state;
    static const struct { const char *name, *bytes; size_t size; bool sound; const char *says; } looks[] = {
        { "a.wav", "", 0, true, "is empty" },
        { "a.OGG", "no sound", 8, true, NOT },
        { "a.m4a", "no sound", 8, true, "convert it to WAV, for instance with" },
        { "a.mp4", "no sound", 8, true, "convert it to WAV, for instance with" },
        { "a.3gp", "no sound", 8, true, "convert it to WAV, for instance with" },
        { "a.webm", "no sound", 8, true, "convert it to WAV, for instance with" },
        { "a.spx", "no sound", 8, true, "convert it to WAV, for instance with" },
        { "a.ra", "no sound", 8, true, "convert it to WAV, for instance with" },
        { "a.mp3", "no sound", 8, true, "its contents can't be read as MP3" },
        { "a.wma", "no sound", 8, true, "convert it to WAV, for instance with" },
        { "a.txt", "no sound", 8, false, NOT },
        { "a", "fLaC", 4, true, NOT },
        { "thunder", "\0\0\0\x18" "ftypM4A \0\0\0\0", 16, true, "MPEG-4 audio; convert it to WAV" },
        { "utf16.txt", "\xFF\xFEh\0e\0l\0l\0o\0", 12, false, NOT },
        { "picture", "\xFF\xD8\xFF\xE0\0\x10JFIF", 10, false, NOT },
    };
    for (size_t i = 0; i < COUNT(looks); i++) {
        struct bytes b = { 0 };
        bytes_put(&b, looks[i].bytes, looks[i].size);
        bytes_save(&b, scratch_at(looks[i].name));
        free(b.data);
        struct source *s;
        struct tc_problem why = { "" };
        if (sound_looks_like(scratch_at(looks[i].name)) != looks[i].sound) fail_msg("%s", looks[i].name);
        assert_int_equal(source_open(&s, scratch_at(looks[i].name), &why), TC_ERR_READ);
        if (!strstr(why.text, looks[i].says)) fail_msg("'%s' lacks '%s'", why.text, looks[i].says);
    }
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, scratch_set_up, scratch_tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(every_kind_of_file_has_its_outcome),
        TEST(a_file_cut_anywhere_never_harms),
        TEST(every_form_that_is_cut_short_says_so),
        TEST(only_what_browsers_keep_in_time_goes_in_as_it_is),
        TEST(more_than_4_gib_of_wav_are_all_there),
        TEST(an_mp3_without_a_tag_is_read_to_its_end),
        TEST(a_broken_mp3_prints_nothing),
        TEST(what_looks_like_sound_is_known),
        TEST(a_recording_without_sound_has_status_3),
        TEST(what_is_no_file_is_named_with_its_reason),
        TEST(reasons_are_right_with_many_threads),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
