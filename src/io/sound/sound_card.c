#include "io/sound/sound_card.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#ifndef TC_WITHOUT_SOUND_CARD
#include <portaudio.h>
#endif

#include "io/process/clock.h"
#include "io/process/mute.h"
#include "words/numbers.h"
#include "words/status.h"
#include "words/text.h"

struct sound_card {
    sound_card_fill *fill;
    void *user;
    int channels;
    double rate;
#ifndef TC_WITHOUT_SOUND_CARD
    PaStream *stream;
    bool started_library;
#endif
};

int sound_card_channels(const struct sound_card *c)
{
    return c->channels;
}

double sound_card_rate(const struct sound_card *c)
{
    return c->rate;
}

#ifndef TC_WITHOUT_SOUND_CARD

/* ---- Which card ---- */

/* Those that play sound have numbers from 1, in PortAudio's order. */
static const PaDeviceInfo *next_card(PaDeviceIndex *at)
{
    for (; *at < Pa_GetDeviceCount(); ++*at) {
        const PaDeviceInfo *info = Pa_GetDeviceInfo(*at);
        if (info && info->maxOutputChannels > 0) return info;
    }
    return NULL;
}

/* "1 front speakers, 2 hall" */
static void name_all(char *to, size_t size)
{
    size_t used = 0;
    const PaDeviceInfo *info;
    int number = 1;
    *to = 0;
    for (PaDeviceIndex at = 0; (info = next_card(&at)) && used < size; at++, number++) {
        char plain[100];
        int n = snprintf(to + used, size - used, "%s%d %s", number > 1 ? ", " : "", number,
                         text_plain(plain, sizeof plain, info->name));
        used += n > 0 ? (size_t)n : 0;
    }
}

static bool name_has(const char *name, const char *part)
{
    size_t n = strlen(part);
    for (; *name; name++) {
        char cut[256];
        snprintf(cut, sizeof cut, "%.*s", (int)(n < sizeof cut ? n : sizeof cut - 1), name);
        if (text_same(cut, part)) return true;
    }
    return false;
}

/* By number, else by name, else by a part of a name. */
static PaDeviceIndex find_card(const char *name, struct tc_problem *why)
{
    int64_t wanted = 0;
    int number = 1, whole = 0, parts = 0;
    PaDeviceIndex exact = paNoDevice, part = paNoDevice;
    const PaDeviceInfo *info;
    if (!number_read_whole(name, &wanted)) wanted = 0;
    for (PaDeviceIndex at = 0; (info = next_card(&at)); at++, number++) {
        if (number == wanted) return at;
        if (text_same(info->name, name)) exact = at, whole++;
        if (name_has(info->name, name)) part = at, parts++;
    }
    if (whole == 1) return exact;
    if (!whole && parts == 1) return part;
    char plain[100], all[300];
    name_all(all, sizeof all);
    problem_set(why, TC_ERR_USAGE, "%s '%s': %s%s",
                parts ? "more than one sound card is called" : "no sound card is called",
                text_plain(plain, sizeof plain, name), *all ? "choose from " : "there is none at all", all);
    return paNoDevice;
}

/* ---- Opening ---- */

static int take(const void *in, void *out, unsigned long frames, const PaStreamCallbackTimeInfo *time,
                PaStreamCallbackFlags flags, void *user)
{
    (void)in, (void)flags;
    const struct sound_card *c = user;
    double ahead = time->outputBufferDacTime - time->currentTime;
    if (!(ahead >= 0 && ahead < 2)) ahead = SOUND_CARD_DELAY_S;
    c->fill(c->user, out, frames, clock_now_s() + ahead);
    return paContinue;
}

static const char *start_library(bool *started)
{
    PaError wrong = Pa_Initialize();
    *started = wrong == paNoError;
    return *started ? NULL : Pa_GetErrorText(wrong);
}

static enum tc_status not_opened(struct tc_problem *why, const char *wrong)
{
    return problem_set(why, TC_ERR_WRITE, "the sound card can't be opened: %s; --no-sound plays without one", wrong);
}

static enum tc_status open_stream(struct sound_card *c, const char *name, double rate, struct tc_problem *why)
{
    const char *trouble = start_library(&c->started_library);
    if (trouble) return not_opened(why, trouble);
    PaDeviceIndex device = name ? find_card(name, why) : Pa_GetDefaultOutputDevice();
    if (name && device == paNoDevice) return TC_ERR_USAGE;
    const PaDeviceInfo *info = device == paNoDevice ? NULL : Pa_GetDeviceInfo(device);
    if (!info) return not_opened(why, "no sound card was found");
    c->channels = info->maxOutputChannels > 1 ? 2 : 1;
    c->rate = rate;
    double delay = info->defaultHighOutputLatency > SOUND_CARD_DELAY_S ? info->defaultHighOutputLatency
        : SOUND_CARD_DELAY_S;
    PaStreamParameters to = { .device = device, .channelCount = c->channels, .sampleFormat = paFloat32,
                              .suggestedLatency = delay };
    if (Pa_IsFormatSupported(NULL, &to, c->rate) != paFormatIsSupported) c->rate = info->defaultSampleRate;
    PaError wrong = Pa_OpenStream(&c->stream, NULL, &to, c->rate, paFramesPerBufferUnspecified, paNoFlag, take, c);
    return wrong == paNoError ? TC_OK : not_opened(why, Pa_GetErrorText(wrong));
}

enum tc_status sound_card_open(struct sound_card **out, const char *name, double rate, sound_card_fill *fill,
                               void *user,
                               struct tc_problem *why)
{
    *out = NULL;
    struct sound_card *c = calloc(1, sizeof *c);
    if (!c) return problem_say(why, TC_ERR_MEMORY);
    c->fill = fill;
    c->user = user;
    mute_begin(); /* sound libraries talk while they look for cards */
    enum tc_status status = open_stream(c, name, rate, why);
    mute_end();
    if (status == TC_OK) *out = c;
    else sound_card_close(c);
    return status;
}

enum tc_status sound_card_start(struct sound_card *c, struct tc_problem *why)
{
    clock_hurry(false); /* the card's thread takes after this one */
    mute_begin();
    PaError wrong = Pa_StartStream(c->stream);
    mute_end();
    if (wrong == paNoError) return TC_OK;
    return problem_set(why, TC_ERR_WRITE, "the sound card can't be started: %s", Pa_GetErrorText(wrong));
}

bool sound_card_runs(const struct sound_card *c)
{
    return Pa_IsStreamActive(c->stream) == 1;
}

void sound_card_close(struct sound_card *c)
{
    if (!c) return;
    mute_begin();
    if (c->stream) Pa_AbortStream(c->stream);
    if (c->stream) Pa_CloseStream(c->stream);
    if (c->started_library) Pa_Terminate();
    mute_end();
    free(c);
}

enum tc_status sound_card_list(void (*tell)(void *user, const struct sound_card_info *card), void *user,
                               struct tc_problem *why)
{
    bool started;
    mute_begin();
    const char *wrong = start_library(&started);
    mute_end();
    const PaDeviceInfo *info;
    int number = 1;
    for (PaDeviceIndex at = 0; started && (info = next_card(&at)); at++, number++) {
        const PaHostApiInfo *system = Pa_GetHostApiInfo(info->hostApi);
        tell(user, &(struct sound_card_info){ .number = number, .name = info->name,
                                              .system = system ? system->name : "",
                                              .channels = info->maxOutputChannels, .rate = info->defaultSampleRate,
                                              .usual = at == Pa_GetDefaultOutputDevice() });
    }
    mute_begin();
    if (started) Pa_Terminate();
    mute_end();
    return started ? TC_OK : problem_set(why, TC_ERR_WRITE, "sound cards can't be looked for: %s", wrong);
}

#else

static enum tc_status without(struct tc_problem *why)
{
    return problem_set(why, TC_ERR_WRITE, "this thundercue was built without sound (PortAudio was not there: Debian's "
                                          "portaudio19-dev); --no-sound plays light alone");
}

enum tc_status sound_card_open(struct sound_card **out, const char *name, double rate, sound_card_fill *fill,
                               void *user,
                               struct tc_problem *why)
{
    (void)name, (void)rate, (void)fill, (void)user;
    *out = NULL;
    return without(why);
}

enum tc_status sound_card_start(struct sound_card *c, struct tc_problem *why)
{
    (void)c;
    return without(why);
}

bool sound_card_runs(const struct sound_card *c)
{
    (void)c;
    return false;
}

void sound_card_close(struct sound_card *c)
{
    free(c);
}

enum tc_status sound_card_list(void (*tell)(void *user, const struct sound_card_info *card), void *user,
                               struct tc_problem *why)
{
    (void)tell, (void)user;
    return without(why);
}

#endif
