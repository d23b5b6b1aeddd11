/* Speed, as ratios measured in one run: what counts is how the parts compare,
 * whatever the machine. `make bench`; BENCH_LONG=1 adds the ten-hour recording.
 *
 * Times of one thread are processor time (least of several rounds), those of
 * the workers are wall clock: the machine should have nothing else to do. */
#include <errno.h>
#include <fcntl.h>
#include <kiss_fft.h>
#include <kiss_fftr.h>
#include <math.h>
#include <sndfile.h>
#include <spawn.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "app/batch/batch.h"
#include "app/clip/listen_file.h"
#include "app/clip/recording.h"
#include "io/process/pool.h"

extern char **environ;

enum { ROUNDS = 5, RATE_STEPS = 200 };
#define WINDOW_S 0.02322 /* as long as the ear's */

static char folder[256];
static int missed;

static double clock_s(clockid_t id)
{
    struct timespec t;
    clock_gettime(id, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static double cpu_s(void)
{
    return clock_s(CLOCK_PROCESS_CPUTIME_ID);
}

static void give_up(const char *what)
{
    fprintf(stderr, "bench: %s\n", what);
    exit(1);
}

static const char *path_of(const char *name)
{
    static char paths[4][512];
    static int next;
    char *path = paths[next++ % 4];
    snprintf(path, sizeof paths[0], "%s/%s", folder, name);
    return path;
}

/* The sample storm again and again, as 16-bit WAV; a second channel is the
 * first a little later. */
static void make_recording(const char *name, int channels, double seconds)
{
    SF_INFO in = { 0 };
    SNDFILE *storm = sf_open("samples/mill-pond.flac", SFM_READ, &in);
    if (!storm || in.channels != 1) give_up("run it from the checkout's top folder");
    short *sound = calloc((size_t)in.frames, sizeof *sound),
        *block = calloc((size_t)(in.frames * channels), sizeof *block);
    if (!sound || !block) give_up("out of memory");
    sf_readf_short(storm, sound, in.frames);
    sf_close(storm);
    enum { LATER = 40 };
    for (sf_count_t i = 0; i < in.frames; i++)
        for (int c = 0; c < channels; c++) block[i * channels + c] = sound[i >= c * LATER ? i - c * LATER : 0];
    SF_INFO info = { .samplerate = in.samplerate, .channels = channels, .format = SF_FORMAT_WAV | SF_FORMAT_PCM_16 };
    SNDFILE *out = sf_open(path_of(name), SFM_WRITE, &info);
    if (!out) give_up("no room for a recording");
    for (sf_count_t left = (sf_count_t)(seconds * in.samplerate); left > 0; left -= in.frames)
        if (sf_writef_short(out, block, left < in.frames ? left : in.frames) <= 0) give_up("no room for a recording");
    sf_close(out);
    free(sound);
    free(block);
}

/* ---- What is measured ---- */

/* Decodes as the program does; with `transform` one transform a step over the
 * recording's own rate: two channels share a complex one, one has a real one. */
static void decode(const char *name, bool transform)
{
    enum { BLOCK = 8192, CHANNELS_MOST = 2 };
    static float block[BLOCK * CHANNELS_MOST];
    SF_INFO info = { 0 };
    SNDFILE *file = sf_open(path_of(name), SFM_READ, &info);
    if (!file) give_up("a recording can't be read");
    int size = kiss_fftr_next_fast_size_real((int)(WINDOW_S * info.samplerate + 0.5));
    kiss_fft_cfg pair = kiss_fft_alloc(size, 0, NULL, NULL);
    kiss_fftr_cfg lone = kiss_fftr_alloc(size, 0, NULL, NULL);
    kiss_fft_cpx *in = calloc((size_t)size, sizeof *in), *out = calloc((size_t)size + 2, sizeof *out);
    float *real = calloc((size_t)size, sizeof *real);
    double due = 0, step = (double)info.samplerate / RATE_STEPS;
    volatile float sink = 0;
    for (sf_count_t n; (n = sf_readf_float(file, block, BLOCK)) > 0;) {
        for (due += transform ? (double)n : 0; due >= step; due -= step) {
            if (info.channels == 2) kiss_fft(pair, in, out);
            else kiss_fftr(lone, real, out);
            real[0] = in[0].r = block[0]; /* or it could be left out */
            sink = sink + out[1].r;
        }
    }
    free(in), free(out), free(real);
    kiss_fft_free(pair);
    kiss_fftr_free(lone);
    sf_close(file);
}

static void listen_to(const char *name)
{
    struct tc_settings s = tc_settings_default();
    struct tc_analysis heard;
    if (listen_file(path_of(name), &s, &heard, NULL, NULL) != TC_OK) give_up("a recording can't be heard");
    tc_analysis_clear(&heard);
}

static double children_cpu_s(void)
{
    struct rusage u;
    getrusage(RUSAGE_CHILDREN, &u);
    return (double)(u.ru_utime.tv_sec + u.ru_stime.tv_sec) + 1e-6 * (double)(u.ru_utime.tv_usec + u.ru_stime.tv_usec);
}

/* Processor time of aubio's onset command on the same file; -1 if it is not installed. */
static double aubio_s(const char *name)
{
    char *argv[] = { (char[]){ "aubioonset" }, (char[]){ "-i" }, (char *)(uintptr_t)path_of(name), NULL };
    posix_spawn_file_actions_t actions;
    posix_spawn_file_actions_init(&actions);
    posix_spawn_file_actions_addopen(&actions, STDOUT_FILENO, "/dev/null", O_WRONLY, 0);
    posix_spawn_file_actions_addopen(&actions, STDERR_FILENO, "/dev/null", O_WRONLY, 0);
    double before = children_cpu_s();
    pid_t child;
    int error = posix_spawnp(&child, argv[0], &actions, NULL, argv, environ), status = -1;
    posix_spawn_file_actions_destroy(&actions);
    if (error) return -1;
    waitpid(child, &status, 0);
    return WIFEXITED(status) && !WEXITSTATUS(status) ? children_cpu_s() - before : -1;
}

static void verdict(const char *what, double ratio, const char *bar, bool met)
{
    printf("  %-52s %8.2f   bar: %-14s %s\n", what, ratio, bar, met ? "met" : "MISSED");
    missed += !met;
}

static double least(double a, double b)
{
    return a > 0 && a < b ? a : b;
}

/* ---- Listening ---- */

static void bench_listening(const char *name, const char *what, double seconds)
{
    double decoding = 1e9, transforming = 1e9, listening = 1e9, aubio = 1e9;
    for (int i = 0; i < ROUNDS; i++) { /* by turns, so that a busy moment hits all alike */
        double t0 = cpu_s();
        decode(name, false);
        double t1 = cpu_s();
        decode(name, true);
        double t2 = cpu_s();
        listen_to(name);
        double t3 = cpu_s();
        decoding = least(t1 - t0, decoding), transforming = least(t2 - t1, transforming),
            listening = least(t3 - t2, listening);
        if (i < 2) aubio = least(aubio_s(name), aubio);
    }
    printf("%s, %.0f s at 44.1 kHz\n", what, seconds);
    printf("  decoding %.3f s, with a transform a step %.3f s, listening %.3f s (%.0f s of sound a second)\n", decoding,
           transforming, listening, seconds / listening);
    verdict("listening / decoding with one transform a step", listening / transforming, "at most 1.3",
            listening <= 1.3 * transforming);
    if (aubio < 1e9) verdict("aubio's onset command / listening", aubio / listening, "above 1", aubio > listening);
    else puts("  aubio is not installed: not compared");
}

/* ---- Cueing and writing ---- */

static void bench_cueing(const char *name, double seconds)
{
    struct tc_settings s = tc_settings_default();
    struct tc_rig rig;
    struct outcome o;
    struct tc_problem why;
    double hours = seconds / 3600;
    if (tc_rig_builtin(&rig) != TC_OK) give_up("out of memory");
    puts("Cueing and writing, an hour of sound on the built-in rig of 16 channels");
    double each[2] = { 1e9, 1e9 }; /* processor time, without and with the page */
    for (int i = 0; i < 2 * ROUNDS; i++) {
        int preview = i % 2;
        struct job job = { .recording = path_of(name), .out_dir = path_of("out"), .over = OVER_OURS,
                           .preview = preview };
        double before = cpu_s();
        if (recording_run(&job, &rig, &s, &o, &why) != TC_OK) give_up(why.text);
        each[preview] = least(cpu_s() - before, each[preview]);
        if (i >= 2 * ROUNDS - 2)
            printf("  %-22s listening %.2f s, cueing %.2f s, writing %.2f s (wall clock, an hour)\n",
                   preview ? "with the page" : "without the page", o.listen_seconds / hours, o.cue_seconds / hours,
                   o.write_seconds / hours);
        outcome_clear(&o);
    }
    printf("  a clip of %.0f s: %.3f s without the page, %.3f s with it\n", seconds, each[0], each[1]);
    verdict("cue with its page / without", each[1] / each[0], "at most 3", each[1] <= 3 * each[0]);
    tc_rig_clear(&rig);
}

/* ---- Workers ---- */

static double batch_s(size_t jobs)
{
    struct tc_settings s = tc_settings_default();
    struct tc_rig rig;
    struct batch_sum sum;
    struct tc_problem why;
    struct batch b = { .folder = path_of("clips"), .out_dir = path_of("batch"), .jobs = jobs, .force = true,
                       .preview = true };
    if (tc_rig_builtin(&rig) != TC_OK) give_up("out of memory");
    double before = clock_s(CLOCK_MONOTONIC);
    if (batch_run(&b, &rig, &s, &sum, NULL, NULL, &why) != TC_OK) give_up(why.text);
    tc_rig_clear(&rig);
    return clock_s(CLOCK_MONOTONIC) - before;
}

static void bench_workers(void)
{
    enum { CLIPS = 16, SECONDS_EACH = 120 };
    if (pool_processors() < 2) {
        puts("Workers: there is one processor only");
        return;
    }
    mkdir(path_of("clips"), 0777);
    for (int i = 0; i < CLIPS; i++) {
        char name[32];
        snprintf(name, sizeof name, "clips/%02d.wav", i);
        make_recording(name, 2, SECONDS_EACH);
    }
    double one = 1e9, two = 1e9;
    for (int i = 0; i < 3; i++) one = least(batch_s(1), one), two = least(batch_s(2), two);
    printf("Batch of %d clips of %d s with pages (wall clock)\n  one worker %.2f s, two workers %.2f s\n", CLIPS,
           SECONDS_EACH, one, two);
    verdict("one worker / two workers", one / two, "at least 1.8", one >= 1.8 * two);
}

/* ---- Growth ---- */

static void bench_growth(void)
{
    static const struct { double seconds; const char *what; bool longest; } rows[] = {
        { 60, "1 minute", false }, { 660, "11 minutes", false }, { 3600, "1 hour", false }, { 36000, "10 hours", true },
    };
    const char *want = getenv("BENCH_LONG");
    double first = 0, last = 0;
    puts("Growth: the whole job with all files, processor time for a minute of sound, and memory");
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        if (rows[i].longest && !(want && *want == '1')) {
            puts("  10 hours    left out; BENCH_LONG=1 takes it in (3 GB on disk)");
            continue;
        }
        make_recording("long.wav", 1, rows[i].seconds);
        pid_t child = fork(); /* so that memory is counted for each alone */
        if (child == 0) {
            struct tc_settings s = tc_settings_default();
            struct tc_rig rig;
            struct outcome o;
            struct tc_problem why;
            struct job job = { .recording = path_of("long.wav"), .out_dir = path_of("out"), .over = OVER_OURS,
                               .preview = true };
            _exit(tc_rig_builtin(&rig) != TC_OK || recording_run(&job, &rig, &s, &o, &why) != TC_OK);
        }
        int status = -1;
        struct rusage u;
        wait4(child, &status, 0, &u);
        if (status) give_up("a long recording failed");
        double cpu = (double)(u.ru_utime.tv_sec + u.ru_stime.tv_sec) + 1e-6 * (double)(u.ru_utime.tv_usec + u.ru_stime.tv_usec);
        double each = cpu / (rows[i].seconds / 60);
        printf("  %-11s %8.2f s in all, %.4f s a minute, %.1f MB\n", rows[i].what, cpu, each,
               (double)u.ru_maxrss / 1024);
        if (rows[i].longest && u.ru_maxrss >= 32 * 1024) missed++, puts("  MISSED: more than 32 MB");
        if (rows[i].seconds > 600 && first <= 0) first = each; /* longer ones have no sound in the page */
        last = each;
        unlink(path_of("long.wav"));
    }
    verdict("a minute of the longest / of eleven minutes", last / first, "at most 1.1", last <= 1.1 * first);
}

static void remove_folder(void)
{
    char command[300];
    snprintf(command, sizeof command, "rm -rf '%s'", folder);
    if (system(command)) fprintf(stderr, "bench: %s is left behind\n", folder);
}

int main(void)
{
    const char *base = getenv("TMPDIR");
    snprintf(folder, sizeof folder, "%s/thundercue-bench-XXXXXX", base && *base ? base : "/tmp");
    if (!mkdtemp(folder)) give_up("no temporary folder");
    atexit(remove_folder);
    make_recording("stereo.wav", 2, 600);
    make_recording("mono.wav", 1, 600);
    bench_listening("stereo.wav", "Stereo WAV", 600);
    bench_listening("mono.wav", "Mono WAV", 600);
    make_recording("clip.wav", 2, 120);
    bench_cueing("clip.wav", 120);
    bench_workers();
    bench_growth();
    printf("%s\n", missed ? "Some bars were missed (on a busy machine, run it again)." : "All bars were met.");
    return missed ? 1 : 0;
}
