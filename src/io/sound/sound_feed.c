#include "io/sound/sound_feed.h"

#include <math.h>
#include <pthread.h>
#include <samplerate.h>
#include <signal.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>

#include "io/process/clock.h"
#include "io/sound/source.h"
#include "words/status.h"

enum {
    RING_FRAMES = 1 << 17,   /* 2.7 s at 48 kHz lie ready */
    PIECE = 2048,            /* sample frames at once */
};
#define PAUSE_S 0.02

struct sound_feed {
    struct sound_plan plan;
    struct source *source;
    SRC_STATE *convert;      /* NULL where the card takes the file's rate */
    int file_channels, channels;
    double file_rate, rate;  /* of the file, of the card */
    int64_t file_frames;     /* as its header claims */
    float *block, *mixed, *piece; /* the thread's */
    float *ring;
    atomic_llong written, taken;       /* sample frames of the show since the start */
    atomic_bool ended, quit, rewind, taking, lost;
    int64_t lap_frames, fed;           /* the thread's: of this lap */
    int64_t before_frames;
    pthread_t thread;
    bool runs;
};

/* ---- Reading ---- */

/* The file's samples in as many channels as the card takes: more are mixed
 * down, odd ones left, even ones right; one goes to both. */
static size_t read_mixed(struct sound_feed *f, float *to, size_t frames)
{
    size_t n = source_read(f->source, f->block, frames);
    for (size_t i = 0; i < n; i++) {
        const float *from = f->block + i * (size_t)f->file_channels;
        float sum[2] = { 0, 0 };
        int count[2] = { 0, 0 };
        for (int c = 0; c < f->file_channels; c++) {
            int side = f->channels == 1 ? 0 : c % 2;
            sum[side] += from[c];
            count[side]++;
        }
        for (int c = 0; c < f->channels; c++) {
            int side = count[c] ? c : 0;
            to[i * (size_t)f->channels + (size_t)c] = sum[side] / (float)count[side];
        }
    }
    return n;
}

static long hand_to_converter(void *user, float **data)
{
    struct sound_feed *f = user;
    *data = f->mixed;
    return (long)read_mixed(f, f->mixed, PIECE);
}

static size_t read_for_card(struct sound_feed *f, float *to, size_t frames)
{
    if (!f->convert) return read_mixed(f, to, frames);
    long got = src_callback_read(f->convert, f->rate / f->file_rate, (long)frames, to);
    return got > 0 ? (size_t)got : 0;
}

/* The room for its samples is that of the file which the show began with, and
 * the light is cued to that one. */
static bool is_same_recording(const struct sound_feed *f)
{
    return source_channels(f->source) == f->file_channels && source_frames(f->source) == f->file_frames
           && fabs(source_rate(f->source) - f->file_rate) < 1e-9;
}

static void begin_file(struct sound_feed *f)
{
    source_close(f->source);
    f->source = NULL;
    bool there = source_open(&f->source, f->plan.path, NULL) == TC_OK;
    if (!there || !is_same_recording(f)) { /* gone, or another: silence */
        if (there) source_close(f->source);
        f->source = NULL;
        f->lost = true;
    }
    if (f->convert) src_reset(f->convert);
    f->fed = 0;
}

/* The next piece of the show; fewer than PIECE frames at a seam. Sets `ended`. */
static size_t next_piece(struct sound_feed *f, float *to)
{
    size_t most = PIECE;
    if (f->before_frames > 0) {
        size_t n = (size_t)(f->before_frames < PIECE ? f->before_frames : PIECE);
        memset(to, 0, n * (size_t)f->channels * sizeof *to);
        f->before_frames -= (int64_t)n;
        return n;
    }
    if (f->plan.loop && f->lap_frames - f->fed < PIECE) most = (size_t)(f->lap_frames - f->fed);
    size_t n = f->source && most ? read_for_card(f, to, most) : 0;
    if (!n && !f->plan.loop) {
        f->ended = true;
        return 0;
    }
    if (!n) {
        n = most; /* silence fills the lap up */
        memset(to, 0, n * (size_t)f->channels * sizeof *to);
    }
    f->fed += (int64_t)n;
    if (f->plan.loop && f->fed >= f->lap_frames) begin_file(f);
    return n;
}

/* ---- The thread ---- */

static void begin_show(struct sound_feed *f)
{
    f->before_frames = llround(f->plan.before_s * f->rate);
    f->lap_frames = llround(f->plan.lap_s * f->rate);
    if (f->lap_frames < 1) f->lap_frames = 1;
    f->written = 0;
    f->taken = 0;
    f->ended = false;
    begin_file(f);
}

static void fill_ring(struct sound_feed *f)
{
    while (!f->ended && !f->quit && !f->rewind && f->written - f->taken < RING_FRAMES - PIECE) {
        size_t n = next_piece(f, f->piece);
        for (size_t i = 0; i < n; i++) {
            size_t at = (size_t)((f->written + (long long)i) % RING_FRAMES);
            memcpy(f->ring + at * (size_t)f->channels, f->piece + i * (size_t)f->channels,
                   (size_t)f->channels * sizeof *f->piece);
        }
        f->written += (long long)n;
    }
}

static void *feed(void *argument)
{
    struct sound_feed *f = argument;
    while (!f->quit) {
        if (f->rewind && !f->taking) {
            begin_show(f);
            f->rewind = false;
        }
        fill_ring(f);
        clock_sleep_until(clock_now_s() + PAUSE_S);
    }
    return NULL;
}

/* Signals are for the show's thread, but for those of a crash in this one. */
static bool start_thread(struct sound_feed *f)
{
    static const int own[] = { SIGSEGV, SIGBUS, SIGFPE, SIGILL, SIGABRT };
    sigset_t all, before;
    sigfillset(&all);
    for (size_t i = 0; i < sizeof own / sizeof *own; i++) sigdelset(&all, own[i]);
    pthread_sigmask(SIG_SETMASK, &all, &before);
    f->runs = !pthread_create(&f->thread, NULL, feed, f);
    pthread_sigmask(SIG_SETMASK, &before, NULL);
    return f->runs;
}

/* ---- Calls ---- */

enum tc_status sound_feed_open(struct sound_feed **out, const struct sound_plan *plan, struct tc_problem *why)
{
    *out = NULL;
    struct sound_feed *f = calloc(1, sizeof *f);
    if (!f) return problem_say(why, TC_ERR_MEMORY);
    f->plan = *plan;
    enum tc_status status = source_open(&f->source, plan->path, why);
    if (status != TC_OK) {
        sound_feed_close(f);
        return status;
    }
    f->file_channels = source_channels(f->source);
    f->file_rate = source_rate(f->source);
    f->file_frames = source_frames(f->source);
    *out = f;
    return TC_OK;
}

double sound_feed_file_rate(const struct sound_feed *f)
{
    return f->file_rate;
}

enum tc_status sound_feed_start(struct sound_feed *f, int channels, double rate, struct tc_problem *why)
{
    int wrong = 0;
    f->channels = channels;
    f->rate = rate;
    f->block = calloc((size_t)PIECE * (size_t)f->file_channels, sizeof *f->block);
    f->mixed = calloc((size_t)PIECE * (size_t)channels, sizeof *f->mixed);
    f->piece = calloc((size_t)PIECE * (size_t)channels, sizeof *f->piece);
    f->ring = calloc((size_t)RING_FRAMES * (size_t)channels, sizeof *f->ring);
    if (!f->block || !f->mixed || !f->piece || !f->ring) return problem_say(why, TC_ERR_MEMORY);
    if (fabs(rate - f->file_rate) > 1e-9
        && !(f->convert = src_callback_new(hand_to_converter, SRC_SINC_MEDIUM_QUALITY, channels, &wrong, f)))
        return problem_say(why, TC_ERR_MEMORY);
    f->rewind = true; /* the thread begins by it */
    return start_thread(f) ? TC_OK : problem_say(why, TC_ERR_MEMORY);
}

void sound_feed_rewind(struct sound_feed *f)
{
    f->rewind = true;
}

bool sound_feed_ready(const struct sound_feed *f)
{
    return !f->rewind && (f->ended || f->written - f->taken >= PIECE);
}

struct sound_taken sound_feed_take(struct sound_feed *f, float *to, size_t frames)
{
    size_t channels = (size_t)f->channels, n = 0;
    f->taking = true; /* before `rewind` is read: what is taken from is not begun anew meanwhile */
    if (f->rewind) {
        memset(to, 0, frames * channels * sizeof *to);
        f->taking = false;
        return (struct sound_taken){ 0 };
    }
    long long taken = f->taken, ready = f->written - taken;
    for (; n < frames && (long long)n < ready; n++)
        memcpy(to + n * channels, f->ring + (size_t)((taken + (long long)n) % RING_FRAMES) * channels,
               channels * sizeof *to);
    memset(to + n * channels, 0, (frames - n) * channels * sizeof *to);
    bool over = f->ended && taken + (long long)n >= f->written;
    struct sound_taken result = { .at = taken, .frames = (int64_t)(over ? frames : n), .dry = n < frames && !over };
    f->taken = taken + result.frames;
    if (over) f->written = f->taken;
    f->taking = false;
    return result;
}

bool sound_feed_lost(const struct sound_feed *f)
{
    return f->lost;
}

void sound_feed_close(struct sound_feed *f)
{
    if (!f) return;
    f->quit = true;
    if (f->runs) pthread_join(f->thread, NULL);
    if (f->convert) src_delete(f->convert);
    source_close(f->source);
    free(f->block);
    free(f->mixed);
    free(f->piece);
    free(f->ring);
    free(f);
}

enum tc_status sound_length(const char *path, double *seconds, struct tc_problem *why)
{
    struct source *s;
    enum tc_status status = source_open(&s, path, why);
    if (status != TC_OK) return status;
    double rate = source_rate(s);
    int64_t frames = source_frames(s);
    if (frames < 0) {
        float *block = calloc((size_t)SOURCE_BLOCK * (size_t)source_channels(s), sizeof *block);
        if (!block) status = problem_say(why, TC_ERR_MEMORY);
        frames = 0;
        for (size_t n; block && (n = source_read(s, block, SOURCE_BLOCK)) > 0;) frames += (int64_t)n;
        free(block);
    }
    source_close(s);
    *seconds = (double)frames / rate;
    return status;
}
