/* Looks at a finished evening with code that the program doesn't share: flashes
 * by the tests' own counter, a look beginning at every light frame; loudness of
 * each clip where it plays by libebur128 (ITU-R BS.1770), against its recording
 * as measured at its own sample rate and the gain of the running order.
 *
 *     bench_night FOLDER NAME SOUND [RIG]     (NAME.frames.csv, NAME.night.csv)
 *     bench_night --run PROGRAM ARGUMENT...   its time, and the most memory that it or a process of it had */
#include "flash_brute.h"
#include "scratch.h"

#include <ebur128.h>
#include <sndfile.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <time.h>

#include "io/files/read_form.h"
#include "words/csv.h"
#include "words/numbers.h"

static double lufs_of(SNDFILE *in, const SF_INFO *info, int64_t frames)
{
    enum { BLOCK = 4096 };
    double lufs = -HUGE_VAL;
    float *block = malloc((size_t)(BLOCK * info->channels) * sizeof *block), pair[2 * BLOCK];
    ebur128_state *state = ebur128_init(2, (unsigned long)info->samplerate, EBUR128_MODE_I);
    for (int64_t n; frames > 0 && (n = sf_readf_float(in, block, frames < BLOCK ? frames : BLOCK)) > 0; frames -= n) {
        for (int64_t f = 0; f < n; f++)
            for (int k = 0; k < 2; k++) pair[2 * f + k] = block[f * info->channels + k % info->channels];
        ebur128_add_frames_float(state, pair, (size_t)n);
    }
    ebur128_loudness_global(state, &lufs);
    ebur128_destroy(&state);
    free(block);
    return lufs;
}

static int by_size(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static void tell(const char *what, double *values, size_t count)
{
    if (!count) return;
    qsort(values, count, sizeof *values, by_size);
    printf("%s: least %.2f, median %.2f, most %.2f (%zu clips)\n", what, values[0], values[count / 2], values[count - 1], count);
}

static void measure_clips(const char *folder, const char *name, const char *sound)
{
    enum { MOST = 20000 };
    static double joined[MOST], off[MOST];
    char path[1000];
    size_t size = 0, count = 0;
    SF_INFO whole = { 0 };
    SNDFILE *evening = sf_open(sound, SFM_READ, &whole);
    snprintf(path, sizeof path, "%s.night.csv", name);
    char *text = scratch_read(path, &size);
    assert_true(evening && text);
    struct csv *csv = csv_open(text, size);
    assert_int_equal(csv_next(csv), CSV_ROW);
    double until = 0;
    while (csv_next(csv) == CSV_ROW && count < MOST) {
        double start = 0, end = 0, gain = 0;
        SF_INFO info = { 0 };
        assert_true(csv_number(csv, 0, &start) && csv_number(csv, 1, &end) && csv_number(csv, 3, &gain));
        snprintf(path, sizeof path, "%s/%s", folder, csv_get(csv, 2));
        SNDFILE *clip = sf_open(path, SFM_READ, &info);
        assert_non_null(clip);
        double alone = lufs_of(clip, &info, INT64_MAX);
        sf_close(clip);
        if (start >= until && sf_seek(evening, llround(start * whole.samplerate), SEEK_SET) >= 0 && isfinite(alone)) {
            joined[count] = lufs_of(evening, &whole, llround((end - start) * whole.samplerate));
            off[count] = joined[count] - alone - gain;
            count++;
        }
        until = end;
    }
    tell("loudness where it plays, LUFS", joined, count);
    tell("off from recording and gain, LU", off, count);
    csv_close(csv);
    free(text);
    sf_close(evening);
}

static int count_flashes(const struct tc_rig *rig, const char *name)
{
    char path[1000];
    size_t size = 0, channels = rig->channel_count, rows = 0;
    snprintf(path, sizeof path, "%s.frames.csv", name);
    char *text = scratch_read(path, &size);
    assert_non_null(text);
    size_t room = 1;
    for (const char *c = text; (c = memchr(c, '\n', size - (size_t)(c - text))); c++) room++;
    double *lamp = calloc(room * channels, sizeof *lamp);
    int64_t *us = calloc(room, sizeof *us);
    struct csv *csv = csv_open(text, size);
    assert_int_equal(csv_next(csv), CSV_ROW);
    for (double v; csv_next(csv) == CSV_ROW; rows++) {
        assert_true(csv_number(csv, 0, &v));
        us[rows] = llround(1e6 * v);
        for (size_t c = 0; c < channels; c++) {
            assert_true(csv_number(csv, c + 1, &v));
            lamp[rows * channels + c] = brute_lamp(&rig->channels[c], v);
        }
    }
    csv_close(csv);
    free(text);
    int most = brute_show(rig, lamp, us, rows);
    printf("flashes by the independent counter: at most %.1f in any second (%zu light frames, each look beginning afresh)\n", most / 2.0, rows);
    free(lamp);
    free(us);
    return most;
}

static char **arguments;

static void look(void **state)
{
    (void)state;
    struct tc_rig rig;
    if (arguments[4]) assert_int_equal(read_rig(arguments[4], &rig, NULL), TC_OK);
    else assert_int_equal(tc_rig_builtin(&rig), TC_OK);
    measure_clips(arguments[1], arguments[2], arguments[3]);
    assert_true(count_flashes(&rig, arguments[2]) <= 6);
    tc_rig_clear(&rig);
}

static double now_s(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static int run(char **command)
{
    double begun = now_s();
    int status;
    struct rusage use;
    pid_t child = fork();
    if (child == 0) {
        execv(command[0], command);
        _exit(127);
    }
    if (child < 0 || wait4(child, &status, 0, &use) < 0) return 1;
    fprintf(stderr, "%.1f s, of the processors %.1f s, %.1f MB\n", now_s() - begun,
            (double)use.ru_utime.tv_sec + 1e-6 * (double)use.ru_utime.tv_usec, (double)use.ru_maxrss / 1024);
    return WIFEXITED(status) ? WEXITSTATUS(status) : 1;
}

int main(int argc, char **argv)
{
    if (argc > 2 && !strcmp(argv[1], "--run")) return run(argv + 2);
    if (argc < 4) return 2;
    arguments = argv;
    const struct CMUnitTest tests[] = { cmocka_unit_test(look) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
