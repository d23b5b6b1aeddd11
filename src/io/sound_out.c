#include "io/sound_out.h"

#include <math.h>
#ifndef TC_WITHOUT_SOUND_CARD
#include <portaudio.h>
#endif
#include <pthread.h>
#include <samplerate.h>
#include <signal.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "io/clock.h"
#include "io/quiet.h"
#include "io/sound_clock.h"
#include "io/source.h"
#include "words/status.h"

enum {
    RING_FRAMES = 1 << 17,   /* 2.7 s at 48 kHz lie ready */
    TELLINGS = 256,          /* from the card's thread, looked at every 20 ms */
    FEED = 2048,             /* sample frames at once */
};
#define FEED_S 0.02
/* The card may hold back so much: enough for a machine that is busy. */
#define LATENCY_S 0.06
/* Ahead of the machine's clock by more than this it is no card. */
#define RUNAWAY_S 1.0
/* Silent for so long it is gone. */
#define GONE_S 3.0

/* What the card says of one buffer. */
struct telling {
    int64_t card;            /* samples that it had taken before */
    int64_t show;            /* and those of the show among them */
    double at_s;             /* when the buffer's first one is heard */
};

struct sound_out {
    struct sound_plan plan;
    struct source *source;
    SRC_STATE *convert;      /* NULL where the card takes the file's rate */
    int file_channels, channels;
    double rate;             /* of the card */
    float *block, *mixed;    /* the feeder's */
    float *ring;
    atomic_llong written, taken;       /* sample frames of the show since the start */
    atomic_bool playing, ended, quit;
    atomic_bool rewind;
    int64_t lap_frames, fed;           /* the feeder's: of this lap */
    int64_t before_frames;
    pthread_t feeder;
    bool fed_by_thread;
#ifndef TC_WITHOUT_SOUND_CARD
    PaStream *stream;
    bool started_library;
#endif
    int64_t card_taken;                /* the card's thread's */
    struct telling told[TELLINGS];
    atomic_ullong told_count;
    unsigned long long looked;         /* the show's thread's, from here on */
    struct sound_clock clock;
    int64_t apart, next_apart, next_from; /* card less show, and from where another holds */
    bool heard_any;
    double first_told_s, last_told_s, delay_s, opened_s;
    atomic_llong gaps;
    double started_s;                  /* without sound */
    bool started;
    bool gone;                         /* the card is lost, and its library with it */
};

/* ---- The feeder ---- */

/* The file's samples in as many channels as the card takes: more are mixed
 * down, odd ones left, even ones right; one goes to both. */
static size_t read_mixed(struct sound_out *o, float *to, size_t frames)
{
    size_t n = source_read(o->source, o->block, frames);
    for (size_t f = 0; f < n; f++) {
        const float *from = o->block + f * (size_t)o->file_channels;
        float sum[2] = { 0, 0 };
        int count[2] = { 0, 0 };
        for (int c = 0; c < o->file_channels; c++) {
            int side = o->channels == 1 ? 0 : c % 2;
            sum[side] += from[c];
            count[side]++;
        }
        for (int c = 0; c < o->channels; c++) {
            int side = count[c] ? c : 0;
            to[f * (size_t)o->channels + (size_t)c] = sum[side] / (float)count[side];
        }
    }
    return n;
}

static long hand_to_converter(void *user, float **data)
{
    struct sound_out *o = user;
    *data = o->mixed;
    return (long)read_mixed(o, o->mixed, FEED);
}

static size_t read_for_card(struct sound_out *o, float *to, size_t frames, double file_rate)
{
    if (!o->convert) return read_mixed(o, to, frames);
    long got = src_callback_read(o->convert, o->rate / file_rate, (long)frames, to);
    return got > 0 ? (size_t)got : 0;
}

static void begin_file(struct sound_out *o)
{
    source_close(o->source);
    o->source = NULL;
    if (source_open(&o->source, o->plan.path, NULL) != TC_OK) o->source = NULL; /* gone: silence */
    if (o->convert) src_reset(o->convert);
    o->fed = 0;
}

/* The next piece of the show; fewer than FEED frames at a seam. Sets `ended`. */
static size_t next_piece(struct sound_out *o, float *to)
{
    size_t most = FEED;
    if (o->before_frames > 0) {
        size_t n = (size_t)(o->before_frames < FEED ? o->before_frames : FEED);
        memset(to, 0, n * (size_t)o->channels * sizeof *to);
        o->before_frames -= (int64_t)n;
        return n;
    }
    if (o->plan.loop && o->lap_frames - o->fed < FEED) most = (size_t)(o->lap_frames - o->fed);
    size_t n = o->source && most ? read_for_card(o, to, most, source_rate(o->source)) : 0;
    if (!n && !o->plan.loop) {
        o->ended = true;
        return 0;
    }
    if (!n) {
        n = most; /* silence fills the lap up */
        memset(to, 0, n * (size_t)o->channels * sizeof *to);
    }
    o->fed += (int64_t)n;
    if (o->plan.loop && o->fed >= o->lap_frames) begin_file(o);
    return n;
}

static void begin_show(struct sound_out *o)
{
    o->before_frames = llround(o->plan.before_s * o->rate);
    o->lap_frames = llround(o->plan.lap_s * o->rate);
    if (o->lap_frames < 1) o->lap_frames = 1;
    o->written = 0;
    o->taken = 0;
    o->ended = false;
    begin_file(o);
}

static void fill_ring(struct sound_out *o, float *piece)
{
    while (!o->ended && !o->quit && !o->rewind && o->written - o->taken < RING_FRAMES - FEED) {
        size_t n = next_piece(o, piece);
        for (size_t f = 0; f < n; f++) {
            size_t at = (size_t)((o->written + (long long)f) % RING_FRAMES);
            memcpy(o->ring + at * (size_t)o->channels, piece + f * (size_t)o->channels,
                   (size_t)o->channels * sizeof *piece);
        }
        o->written += (long long)n;
    }
}

static void *feed(void *argument)
{
    struct sound_out *o = argument;
    float *piece = calloc((size_t)FEED * (size_t)o->channels, sizeof *piece);
    while (piece && !o->quit) {
        if (o->rewind) {
            begin_show(o);
            o->rewind = false;
        }
        fill_ring(o, piece);
        clock_sleep_until(clock_now_s() + FEED_S);
    }
    free(piece);
    return NULL;
}

/* ---- The card ---- */

#ifndef TC_WITHOUT_SOUND_CARD

/* On the card's own thread: no waiting, no memory. */
static int take(const void *in, void *out, unsigned long frames, const PaStreamCallbackTimeInfo *time,
                PaStreamCallbackFlags flags, void *user)
{
    (void)in, (void)flags;
    struct sound_out *o = user;
    float *to = out;
    size_t channels = (size_t)o->channels, n = 0;
    long long taken = o->taken, ready = o->playing && !o->rewind ? o->written - taken : 0;
    double ahead = time->outputBufferDacTime - time->currentTime;
    if (!(ahead >= 0 && ahead < 2)) ahead = LATENCY_S;
    unsigned long long count = o->told_count;
    o->told[count % TELLINGS] = (struct telling){ o->card_taken, o->playing ? taken : -1, clock_now_s() + ahead };
    o->told_count = count + 1;

    for (; n < frames && (long long)n < ready; n++)
        memcpy(to + n * channels, o->ring + (size_t)((taken + (long long)n) % RING_FRAMES) * channels, channels * sizeof *to);
    memset(to + n * channels, 0, (frames - n) * channels * sizeof *to);
    bool over = o->ended && taken + (long long)n >= o->written;
    if (o->playing && n < frames && !over) o->gaps++;
    /* behind the end silence goes on as part of the show */
    if (o->playing) o->taken = taken + (long long)(over ? frames : n);
    if (over && o->playing) o->written = o->taken;
    o->card_taken += (int64_t)frames;
    return paContinue;
}

static const char *open_stream(struct sound_out *o)
{
    PaError wrong = Pa_Initialize();
    if (wrong != paNoError) return Pa_GetErrorText(wrong);
    o->started_library = true;
    PaDeviceIndex device = Pa_GetDefaultOutputDevice();
    const PaDeviceInfo *info = device == paNoDevice ? NULL : Pa_GetDeviceInfo(device);
    if (!info) return "no sound card was found";
    o->channels = info->maxOutputChannels > 1 ? 2 : 1;
    double latency = info->defaultHighOutputLatency > LATENCY_S ? info->defaultHighOutputLatency : LATENCY_S;
    PaStreamParameters to = { .device = device, .channelCount = o->channels, .sampleFormat = paFloat32,
                              .suggestedLatency = latency };
    o->rate = source_rate(o->source);
    if (Pa_IsFormatSupported(NULL, &to, o->rate) != paFormatIsSupported) o->rate = info->defaultSampleRate;
    wrong = Pa_OpenStream(&o->stream, NULL, &to, o->rate, paFramesPerBufferUnspecified, paNoFlag, take, o);
    return wrong == paNoError ? NULL : Pa_GetErrorText(wrong);
}

static enum tc_status open_card(struct sound_out *o, struct tc_problem *why)
{
    quiet_begin(); /* sound libraries talk while they look for cards */
    const char *wrong = open_stream(o);
    quiet_end();
    if (!wrong) return TC_OK;
    return problem_set(why, TC_ERR_WRITE, "the sound card can't be opened: %s; --no-sound plays without one", wrong);
}

static enum tc_status run_card(struct sound_out *o, struct tc_problem *why)
{
    quiet_begin();
    PaError wrong = Pa_StartStream(o->stream);
    quiet_end();
    if (wrong == paNoError) return TC_OK;
    return problem_set(why, TC_ERR_WRITE, "the sound card can't be started: %s", Pa_GetErrorText(wrong));
}

static void close_card(struct sound_out *o)
{
    quiet_begin();
    if (o->stream) Pa_AbortStream(o->stream);
    if (o->stream) Pa_CloseStream(o->stream);
    if (o->started_library) Pa_Terminate();
    quiet_end();
}

static bool card_runs(const struct sound_out *o)
{
    return Pa_IsStreamActive(o->stream) == 1;
}

#else

static enum tc_status open_card(struct sound_out *o, struct tc_problem *why)
{
    (void)o;
    return problem_set(why, TC_ERR_WRITE, "this thundercue was built without sound (PortAudio was not there: Debian's "
                                          "portaudio19-dev); --no-sound plays light alone");
}

static enum tc_status run_card(struct sound_out *o, struct tc_problem *why) { return open_card(o, why); }
static void close_card(struct sound_out *o) { (void)o; }
static bool card_runs(const struct sound_out *o) { (void)o; return false; }

#endif

/* ---- Opening ---- */

static enum tc_status no_memory(struct tc_problem *why)
{
    return problem_set(why, TC_ERR_MEMORY, "%s", tc_status_text(TC_ERR_MEMORY));
}

/* Signals are for the show's thread. */
static bool start_feeder(struct sound_out *o)
{
    sigset_t all, before;
    sigfillset(&all);
    sigdelset(&all, SIGSEGV);
    sigdelset(&all, SIGBUS);
    sigdelset(&all, SIGFPE);
    sigdelset(&all, SIGILL);
    sigdelset(&all, SIGABRT);
    pthread_sigmask(SIG_SETMASK, &all, &before);
    o->fed_by_thread = !pthread_create(&o->feeder, NULL, feed, o);
    pthread_sigmask(SIG_SETMASK, &before, NULL);
    return o->fed_by_thread;
}

static enum tc_status make_room(struct sound_out *o, struct tc_problem *why)
{
    int wrong = 0;
    o->file_channels = source_channels(o->source);
    o->block = calloc((size_t)FEED * (size_t)o->file_channels, sizeof *o->block);
    o->mixed = calloc((size_t)FEED * (size_t)o->channels, sizeof *o->mixed);
    o->ring = calloc((size_t)RING_FRAMES * (size_t)o->channels, sizeof *o->ring);
    if (fabs(o->rate - source_rate(o->source)) > 1e-9
        && !(o->convert = src_callback_new(hand_to_converter, SRC_SINC_MEDIUM_QUALITY, o->channels, &wrong, o)))
        return no_memory(why);
    return o->block && o->mixed && o->ring ? TC_OK : no_memory(why);
}

enum tc_status sound_out_open(struct sound_out **out, const struct sound_plan *plan, struct tc_problem *why)
{
    *out = NULL;
    struct sound_out *o = calloc(1, sizeof *o);
    if (!o) return no_memory(why);
    o->plan = *plan;
    o->opened_s = clock_now_s();
    enum tc_status status = TC_OK;
    if (plan->path) {
        status = source_open(&o->source, plan->path, why);
        if (status == TC_OK) status = open_card(o, why);
        if (status == TC_OK) status = make_room(o, why);
        if (status == TC_OK) {
            sound_clock_begin(&o->clock, o->rate);
            o->rewind = true; /* the feeder begins by it */
            if (!start_feeder(o)) status = no_memory(why);
        }
        if (status == TC_OK) status = run_card(o, why);
    }
    if (status != TC_OK) {
        sound_out_close(o);
        return status;
    }
    *out = o;
    return TC_OK;
}

void sound_out_close(struct sound_out *o)
{
    if (!o) return;
    if (o->plan.path && !o->gone) close_card(o);
    o->quit = true;
    if (o->fed_by_thread) pthread_join(o->feeder, NULL);
    if (o->gone) return; /* its library may wait for ever for a card that is gone, and its thread may still come by */
    if (o->convert) src_delete(o->convert);
    source_close(o->source);
    free(o->block);
    free(o->mixed);
    free(o->ring);
    free(o);
}

/* ---- The show ---- */

bool sound_out_ready(const struct sound_out *o)
{
    return !o->plan.path || (!o->rewind && (o->ended || o->written - o->taken >= FEED));
}

void sound_out_start(struct sound_out *o)
{
    o->started = true;
    o->started_s = clock_now_s();
    o->playing = true;
}

void sound_out_rewind(struct sound_out *o)
{
    o->started = false;
    o->heard_any = false;
    o->playing = false;
    if (o->plan.path) o->rewind = true;
}

/* Takes over what the card has told since. */
static void listen_to_card(struct sound_out *o)
{
    unsigned long long count = o->told_count;
    if (count - o->looked > TELLINGS / 2) o->looked = count - TELLINGS / 2;
    for (; o->looked < count; o->looked++) {
        struct telling t = o->told[o->looked % TELLINGS];
        double now = clock_now_s();
        if (!o->clock.told) o->first_told_s = now;
        o->last_told_s = now;
        o->delay_s = t.at_s - now;
        sound_clock_tell(&o->clock, t.card, t.at_s);
        if (t.show < 0 || !o->started) continue;
        int64_t apart = t.card - t.show;
        if (o->heard_any && apart == o->next_apart) continue;
        if (!o->heard_any) o->apart = apart;
        o->heard_any = true;
        o->next_apart = apart;
        o->next_from = t.card;
    }
}

double sound_out_heard_s(struct sound_out *o, double now_s)
{
    if (!o->plan.path) return o->started ? now_s - o->started_s : -1;
    listen_to_card(o);
    if (!o->heard_any) return -1;
    double card = sound_clock_frame(&o->clock, now_s), told = (double)o->clock.frame;
    /* no further than the card has told, a quarter of a second apart: a card that stands still is no clock */
    if (now_s - o->last_told_s > 0.1 && card > told) card = told;
    if (card >= (double)o->next_from) o->apart = o->next_apart;
    return (card - (double)o->apart) / o->rate;
}

bool sound_out_lost(struct sound_out *o, double now_s, struct tc_problem *why)
{
    if (!o->plan.path) return false;
    listen_to_card(o);
    if (!card_runs(o)) {
        problem_set(why, TC_ERR_WRITE, "the sound card is gone");
        return o->gone = true;
    }
    if (now_s - (o->clock.told ? o->last_told_s : o->opened_s) > GONE_S) {
        problem_set(why, TC_ERR_WRITE, "the sound card has taken no sound for %.0f s", GONE_S);
        return o->gone = true;
    }
    if (o->clock.told && (double)o->clock.frame / o->rate > now_s - o->opened_s + RUNAWAY_S) {
        problem_set(why, TC_ERR_WRITE, "the sound card takes sound faster than it can be heard: it keeps no time, "
                                       "and light can't follow it");
        return true;
    }
    return false;
}

double sound_out_delay_s(const struct sound_out *o)
{
    return o->plan.path ? o->delay_s : 0;
}

int64_t sound_out_gaps(const struct sound_out *o)
{
    return o->gaps;
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
        if (!block) status = no_memory(why);
        frames = 0;
        for (size_t n; block && (n = source_read(s, block, SOURCE_BLOCK)) > 0;) frames += (int64_t)n;
        free(block);
    }
    source_close(s);
    *seconds = (double)frames / rate;
    return status;
}
