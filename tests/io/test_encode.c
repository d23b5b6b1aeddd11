/* The sound inside a page: whatever it is made of, it is read back at the same
 * moments and as loud as it was. */
#include "check.h"

#include <malloc.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <sndfile.h>

#include "io/sound/encode.h"

/* Noise of a simple congruential generator (Numerical Recipes). */
static void fill_noise(float *samples, size_t count)
{
    uint32_t state = 5;
    for (size_t i = 0; i < count; i++) {
        state = state * 1664525u + 1013904223u;
        samples[i] = 0.5f * ((float)(state >> 8) / 8388608.0f - 1.0f);
    }
}

static struct encoder *encoded(const float *samples, size_t frames, double rate, int channels, size_t block)
{
    struct encoder *e;
    assert_int_equal(encoder_create(&e, rate, channels), TC_OK);
    for (size_t at = 0; at < frames; at += block)
        assert_int_equal(encoder_push(e, samples + at * (size_t)channels, frames - at < block ? frames - at : block),
                         TC_OK);
    assert_int_equal(encoder_finish(e), TC_OK);
    return e;
}

static size_t bytes_of(const struct encoder *e, unsigned char *to, size_t room)
{
    return fread(to, 1, room, encoder_bytes(e));
}

static void any_block_size_gives_the_same_sound(void **state)
{
    (void)state;
    enum { FRAMES = 20000, ROOM = 1 << 20 };
    static float samples[FRAMES * 2];
    static unsigned char want[ROOM], got[ROOM];
    static const size_t blocks[] = { 1, 777, 4096, 4097, 8192 };
    static const double rates[] = { 44100, 96000 };
    fill_noise(samples, FRAMES * 2);
    for (size_t r = 0; r < COUNT(rates); r++) {
        struct encoder *e = encoded(samples, FRAMES, rates[r], 2, FRAMES);
        size_t size = bytes_of(e, want, ROOM);
        encoder_destroy(e);
        assert_true(size > 1000);
        for (size_t i = 0; i < COUNT(blocks); i++) {
            e = encoded(samples, FRAMES, rates[r], 2, blocks[i]);
            assert_int_equal(bytes_of(e, got, ROOM), size);
            assert_memory_equal(got, want, size);
            encoder_destroy(e);
        }
    }
}

/* Read back by libsndfile: as long and about as loud as what was pushed. */
static void any_rate_and_channels_come_through(void **state)
{
    (void)state;
    static const double rates[] = { 1000, 8000, 11025, 37800, 44100, 48000, 88200, 96000, 192000, 768000 };
    static const int channels[] = { 1, 2, 6 };
    enum { SECONDS = 2 };
    for (size_t r = 0; r < COUNT(rates); r++)
        for (size_t k = 0; k < COUNT(channels); k++) {
            size_t frames = (size_t)rates[r] * SECONDS, n = (size_t)channels[k];
            float *samples = calloc(frames * n, sizeof *samples);
            assert_non_null(samples);
            for (size_t f = 0; f < frames; f++) /* 200 Hz; every second channel in opposite phase */
                for (size_t c = 0; c < n; c++)
                    samples[f * n + c] = (c % 2 ? -0.5f : 0.5f)
                                         * (float)sin(2 * 3.14159265358979 * 200 * (double)f / rates[r]);
            struct encoder *e = encoded(samples, frames, rates[r], channels[k], 5000);
            free(samples);
            SF_INFO info = { 0 };
            SNDFILE *back = sf_open_fd(fileno(encoder_bytes(e)), SFM_READ, &info, 0);
            assert_non_null(back);
            assert_true(info.samplerate <= 48000 && info.channels == (n > 2 ? 2 : (int)n));
            double sum = 0;
            long count = 0;
            float block[2048];
            for (sf_count_t got; (got = sf_readf_float(back, block, 2048 / info.channels)) > 0;)
                for (sf_count_t i = 0; i < got; i++, count++) {
                    double v = (double)block[i * info.channels];
                    sum += v * v;
                }
            sf_close(back);
            assert_near((double)count / info.samplerate, SECONDS, 0.1);
            assert_near(sqrt(sum / (double)count), 0.5 / sqrt(2), 0.03); /* the mean power of a sine */
            encoder_destroy(e);
        }
    encoder_destroy(NULL);
}

/* Light and sound must not part: what is at one second stays there, and the
 * sound is as long as it was. */
static void every_moment_stays_where_it_was(void **state)
{
    (void)state;
    static const double rates[] = { 8000, 11025, 22050, 32000, 44100, 48000, 96000, 192000 };
    enum { SECONDS = 2 };
    for (size_t r = 0; r < COUNT(rates); r++) {
        size_t frames = (size_t)rates[r] * SECONDS, wide = (size_t)(rates[r] / 4000); /* 0.25 ms to each side */
        float *samples = calloc(frames, sizeof *samples);
        assert_non_null(samples);
        for (size_t i = 0; i <= 2 * wide; i++)
            samples[frames / 2 - wide + i] = 0.9f * (float)(i < wide ? i : 2 * wide - i) / (float)wide;
        struct encoder *e = encoded(samples, frames, rates[r], 1, 3000);
        free(samples);
        SF_INFO info = { 0 };
        SNDFILE *back = sf_open_fd(fileno(encoder_bytes(e)), SFM_READ, &info, 0);
        assert_non_null(back);
        float *heard = calloc((size_t)info.frames, sizeof *heard);
        assert_non_null(heard);
        assert_int_equal(sf_readf_float(back, heard, info.frames), info.frames);
        sf_count_t top = 0;
        for (sf_count_t i = 0; i < info.frames; i++)
            if (heard[i] > heard[top]) top = i;
        assert_near((double)info.frames / info.samplerate, SECONDS, 0.002);
        assert_near((double)top / info.samplerate, SECONDS / 2.0, 1.01 / info.samplerate);
        free(heard);
        sf_close(back);
        encoder_destroy(e);
    }
}

/* ---- Memory ---- */

/* Bytes of address space that this process takes (proc(5), statm). */
static rlim_t space_taken(void)
{
    long pages = 0;
    FILE *in = fopen("/proc/self/statm", "r");
    if (!in || fscanf(in, "%ld", &pages) != 1) pages = 0;
    if (in) fclose(in);
    return (rlim_t)pages * (rlim_t)sysconf(_SC_PAGESIZE);
}

/* What making an encoder comes to in a process that may take `more` bytes, or
 * -1 if it dies of it. */
static int made_within(rlim_t more)
{
    fflush(NULL);
    pid_t pid = fork();
    assert_true(pid >= 0);
    if (!pid) {
        struct encoder *e;
        malloc_trim(0); /* nothing left over from before */
        const rlim_t most = space_taken() + more;
        if (setrlimit(RLIMIT_AS, &(struct rlimit){ most, most })) _exit(99);
        _exit((int)encoder_create(&e, 44100, 2));
    }
    int status = 0;
    assert_int_equal(waitpid(pid, &status, 0), pid);
    return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

/* The address and thread sanitizers take terabytes of address space for themselves. */
#ifdef __has_feature
#define SANITIZED (__has_feature(address_sanitizer) || __has_feature(thread_sanitizer))
#elif defined __SANITIZE_ADDRESS__ || defined __SANITIZE_THREAD__
#define SANITIZED 1
#else
#define SANITIZED 0
#endif

/* libsndfile begins a FLAC file without looking whether it was given memory. */
static void too_little_memory_is_told_and_no_crash(void **state)
{
    (void)state;
    if (SANITIZED) {
        print_message("skipped: memory can't be limited under this sanitizer\n");
        skip();
    }
    enum { STEP = 64 << 10, MOST = 8 << 20 };
    int refused = 0, made = 0;
    for (rlim_t more = 0; more <= MOST; more += STEP) {
        int status = made_within(more);
        if (status != TC_ERR_MEMORY && status != TC_OK) fail_msg("with %lu bytes: %d", (unsigned long)more, status);
        refused += status == TC_ERR_MEMORY;
        made += status == TC_OK;
    }
    print_message("    refused with little memory %d times, made with more %d times\n", refused, made);
    assert_true(refused > 0 && made > 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(any_block_size_gives_the_same_sound),
        cmocka_unit_test(any_rate_and_channels_come_through),
        cmocka_unit_test(every_moment_stays_where_it_was),
        cmocka_unit_test(too_little_memory_is_told_and_no_crash),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
