#include "io/sound/joined_sound.h"

#include <math.h>
#include <sndfile.h>
#include <stdlib.h>
#include <string.h>

#include "io/process/stop.h"
#include "io/sound/ceiling.h"
#include "io/sound/fade.h"
#include "io/sound/loudness.h"
#include "io/sound/ogg_serial.h"
#include "io/sound/quantise.h"
#include "io/sound/voice.h"

enum { SIDES = 2, BLOCK = 4096, OGG_SERIAL = 1, SETTLED_S = 8, TAIL_S = 1, FINE_BITS = 24, DRAW_NOISE = 1 };
/* Short enough to leave a crack its attack, long enough not to click. */
#define FADE_S 0.005
/* Clips keep so far under full scale by themselves; together they are kept there. */
#define CEILING_DB (-1.0)
#define OGG_QUALITY 0.5 /* about 160 kbit a second where it sounds */

const char *const joined_endings[JOINED_FORMS] = { "flac", "wav", "ogg" };
static const int formats[JOINED_FORMS] = { SF_FORMAT_FLAC, SF_FORMAT_RF64, SF_FORMAT_OGG };

/* A clip that sounds. */
struct clip {
    struct voice *voice;
    int64_t at, frames;     /* mixed of it, to be mixed */
    float gain;
};

struct joined {
    FILE *to;
    SNDFILE *sound;
    enum joined_form form;
    int bits, rate;
    int64_t at;             /* frames mixed; the ceiling is somewhat behind */
    int64_t written;
    size_t late;            /* frames that the ceiling still owes */
    int64_t silent, unmeasured; /* frames of silence mixed last, written last */
    struct clip clips[JOINED_VOICES_MOST];
    size_t clip_count;
    struct under *under;    /* NULL: none */
    struct ceiling *ceiling;
    struct loudness *loudness;
    float peak;
    float mix[SIDES * BLOCK], part[SIDES * BLOCK];
    struct randomiser noise;
    union {
        short coarse[SIDES * BLOCK];
        int fine[SIDES * BLOCK];
    } whole;                /* the mix in whole numbers */
};

static SNDFILE *open_sound(const struct joined *j)
{
    int numbers = j->form == JOINED_OGG ? SF_FORMAT_VORBIS : j->bits == FINE_BITS ? SF_FORMAT_PCM_24 : SF_FORMAT_PCM_16;
    SF_INFO info = { .samplerate = j->rate, .channels = SIDES, .format = formats[j->form] | numbers };
    SNDFILE *sound = sf_open_fd(fileno(j->to), SFM_WRITE, &info, 0);
    double level = 0, quality = OGG_QUALITY;
    if (!sound) return NULL;
    sf_command(sound, SFC_SET_CLIPPING, NULL, SF_TRUE);
    /* The quickest: what counts is that silence takes no room. */
    if (j->form == JOINED_FLAC) sf_command(sound, SFC_SET_COMPRESSION_LEVEL, &level, sizeof level);
    if (j->form == JOINED_WAV) sf_command(sound, SFC_RF64_AUTO_DOWNGRADE, NULL, SF_TRUE);
    if (j->form == JOINED_OGG) sf_command(sound, SFC_SET_VBR_ENCODING_QUALITY, &quality, sizeof quality);
    return sound;
}

enum tc_status joined_open(struct joined **out, FILE *to, const struct joined_wish *wish)
{
    struct joined *j = *out = calloc(1, sizeof *j);
    if (!j) return TC_ERR_MEMORY;
    j->to = to;
    j->form = wish->form;
    j->bits = wish->bits;
    j->rate = wish->rate;
    j->noise = random_keyed(wish->seed, DRAW_NOISE, 0);
    enum tc_status status = loudness_create(&j->loudness, j->rate, false);
    if (status == TC_OK) status = ceiling_create(&j->ceiling, j->rate, (float)pow(10, CEILING_DB / 20));
    if (status == TC_OK && !(j->sound = open_sound(j))) status = TC_ERR_WRITE;
    if (status == TC_OK) {
        j->late = ceiling_delay(j->ceiling);
        return TC_OK;
    }
    joined_close(j);
    *out = NULL;
    return status;
}

enum tc_status joined_under(struct joined *j, const struct under_plan *plan, struct tc_problem *why)
{
    return under_open(&j->under, plan, j->rate, why);
}

/* ---- Mixing ---- */

static enum tc_status add_clip(struct joined *j, struct clip *c, size_t frames)
{
    size_t got, most = (int64_t)frames < c->frames - c->at ? frames : (size_t)(c->frames - c->at);
    enum tc_status status = voice_read(c->voice, j->part, most, &got);
    for (size_t f = 0; f < got && status == TC_OK; f++) {
        float gain = c->gain * fade_ends(c->at + (int64_t)f, c->frames, FADE_S * j->rate);
        for (size_t k = 0; k < SIDES; k++) j->mix[SIDES * f + k] += gain * j->part[SIDES * f + k];
    }
    c->at += (int64_t)most;
    return status;
}

static void drop_ended(struct joined *j)
{
    size_t kept = 0;
    for (size_t i = 0; i < j->clip_count; i++) {
        if (j->clips[i].at < j->clips[i].frames) j->clips[kept++] = j->clips[i];
        else voice_close(j->clips[i].voice);
    }
    j->clip_count = kept;
}

static bool is_silent(const float *pair, size_t frames)
{
    for (size_t i = 0; i < SIDES * frames; i++)
        if (pair[i] != 0) return false;
    return true;
}

static enum tc_status write_pair(struct joined *j, const float *pair, size_t frames)
{
    sf_count_t count = (sf_count_t)frames, done;
    j->written += (int64_t)frames;
    if (j->form == JOINED_OGG) {
        done = sf_writef_float(j->sound, pair, count);
    } else if (j->bits == FINE_BITS) {
        quantise_24(pair, j->whole.fine, SIDES * frames);
        done = sf_writef_int(j->sound, j->whole.fine, count);
    } else {
        quantise_16(&j->noise, pair, j->whole.coarse, SIDES * frames);
        done = sf_writef_short(j->sound, j->whole.coarse, count);
    }
    return done == count ? TC_OK : TC_ERR_WRITE;
}

/* Limited, measured and written, later by the ceiling's delay. */
static enum tc_status put_mix(struct joined *j, size_t frames)
{
    ceiling_step(j->ceiling, j->mix, frames);
    size_t skip = j->late < frames ? j->late : frames;
    j->late -= skip;
    const float *pair = j->mix + SIDES * skip;
    frames -= skip;
    for (size_t i = 0; i < SIDES * frames; i++) j->peak = fmaxf(j->peak, fabsf(pair[i]));
    /* Where a sound ends, the blocks that loudness is measured in still hold some of it. */
    j->unmeasured = is_silent(pair, frames) ? j->unmeasured + (int64_t)frames : 0;
    enum tc_status status = j->unmeasured <= TAIL_S * j->rate ? loudness_push(j->loudness, pair, frames) : TC_OK;
    if (status != TC_OK) return status;
    return write_pair(j, pair, frames);
}

static enum tc_status mix_block(struct joined *j, size_t frames)
{
    enum tc_status status = TC_OK;
    memset(j->mix, 0, SIDES * frames * sizeof *j->mix);
    bool silent = !j->clip_count && (!j->under || under_ended(j->under));
    j->silent = silent ? j->silent + (int64_t)frames : 0;
    if (silent && j->silent > SETTLED_S * j->rate) { /* the ceiling has nothing in it and nothing to do */
        j->at += (int64_t)frames;
        return write_pair(j, j->mix, frames);
    }
    for (size_t i = 0; i < j->clip_count && status == TC_OK; i++) status = add_clip(j, &j->clips[i], frames);
    if (status == TC_OK && j->under) status = under_add(j->under, j->mix, frames);
    if (status == TC_OK) status = put_mix(j, frames);
    j->at += (int64_t)frames;
    drop_ended(j);
    return status;
}

enum tc_status joined_until(struct joined *j, int64_t frame)
{
    enum tc_status status = TC_OK;
    while (status == TC_OK && j->at < frame) {
        status = mix_block(j, frame - j->at < BLOCK ? (size_t)(frame - j->at) : BLOCK);
        if (status == TC_OK && stop_asked()) status = TC_ERR_STOPPED;
    }
    return status;
}

enum tc_status joined_clip(struct joined *j, struct source *from, int64_t frames, double gain_db)
{
    struct clip c = { .frames = frames, .gain = (float)pow(10, gain_db / 20) };
    if (j->clip_count == JOINED_VOICES_MOST || frames <= 0) {
        source_close(from);
        return frames <= 0 ? TC_OK : TC_ERR_USAGE;
    }
    enum tc_status status = voice_open(&c.voice, from, j->rate);
    if (status == TC_OK) j->clips[j->clip_count++] = c;
    return status;
}

/* ---- The end ---- */

enum tc_status joined_finish(struct joined *j, struct joined_sum *sum)
{
    memset(j->mix, 0, sizeof j->mix);
    enum tc_status status = put_mix(j, ceiling_delay(j->ceiling));
    double peak_db = j->peak > 0 ? 20 * log10((double)j->peak) : -HUGE_VAL;
    *sum = (struct joined_sum){ j->written, loudness_lufs(j->loudness), peak_db, (double)ceiling_softened(j->ceiling) / j->rate };
    int failed = sf_close(j->sound);
    j->sound = NULL;
    if (status == TC_OK && failed) status = TC_ERR_WRITE;
    return status == TC_OK && j->form == JOINED_OGG ? ogg_serial_set(j->to, OGG_SERIAL) : status;
}

void joined_close(struct joined *j)
{
    if (!j) return;
    if (j->sound) sf_close(j->sound);
    for (size_t i = 0; i < j->clip_count; i++) voice_close(j->clips[i].voice);
    under_close(j->under);
    ceiling_destroy(j->ceiling);
    loudness_destroy(j->loudness);
    free(j);
}
