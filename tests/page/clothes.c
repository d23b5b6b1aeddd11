/* Puts a recording into other clothes: clothes IN OUT KIND writes it as that
 * kind of file; KIND "samples" writes what libsndfile reads of it, as raw
 * 32-bit floats, channels side by side. */
#include <sndfile.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const struct kind {
    const char *name;
    int format;
} kinds[] = {
    { "wav-8", SF_FORMAT_WAV | SF_FORMAT_PCM_U8 },       { "wav-16", SF_FORMAT_WAV | SF_FORMAT_PCM_16 },
    { "wav-24", SF_FORMAT_WAV | SF_FORMAT_PCM_24 },      { "wav-32", SF_FORMAT_WAV | SF_FORMAT_PCM_32 },
    { "wav-float", SF_FORMAT_WAV | SF_FORMAT_FLOAT },    { "wav-double", SF_FORMAT_WAV | SF_FORMAT_DOUBLE },
    { "wav-ulaw", SF_FORMAT_WAV | SF_FORMAT_ULAW },      { "wav-alaw", SF_FORMAT_WAV | SF_FORMAT_ALAW },
    { "wavex-24", SF_FORMAT_WAVEX | SF_FORMAT_PCM_24 },  { "rf64-16", SF_FORMAT_RF64 | SF_FORMAT_PCM_16 },
    { "aiff-16", SF_FORMAT_AIFF | SF_FORMAT_PCM_16 },    { "aiff-24", SF_FORMAT_AIFF | SF_FORMAT_PCM_24 },
    { "flac-8", SF_FORMAT_FLAC | SF_FORMAT_PCM_S8 },     { "flac-16", SF_FORMAT_FLAC | SF_FORMAT_PCM_16 },
    { "flac-24", SF_FORMAT_FLAC | SF_FORMAT_PCM_24 },    { "ogg", SF_FORMAT_OGG | SF_FORMAT_VORBIS },
    { "opus", SF_FORMAT_OGG | SF_FORMAT_OPUS },          { "mp3", SF_FORMAT_MPEG | SF_FORMAT_MPEG_LAYER_III },
    { "mp3-vbr", SF_FORMAT_MPEG | SF_FORMAT_MPEG_LAYER_III },
    { "samples", SF_FORMAT_RAW | SF_FORMAT_FLOAT },
};

static int fail(const char *who, const char *why)
{
    fprintf(stderr, "clothes: %s: %s\n", who, why);
    return 1;
}

int main(int argc, char **argv)
{
    if (argc != 4) return fail("usage", "clothes IN OUT KIND");
    SF_INFO info = { 0 };
    SNDFILE *in = sf_open(argv[1], SFM_READ, &info);
    if (!in) return fail(argv[1], sf_strerror(NULL));
    SF_INFO made = { .samplerate = info.samplerate, .channels = info.channels };
    for (size_t i = 0; i < sizeof kinds / sizeof *kinds; i++)
        if (!strcmp(argv[3], kinds[i].name)) made.format = kinds[i].format;
    if (!made.format) return fail(argv[3], "is no kind of file known here");
    SNDFILE *out = sf_open(argv[2], SFM_WRITE, &made);
    float *samples = calloc((size_t)info.channels * 4096, sizeof *samples);
    if (!out || !samples) return fail(argv[2], sf_strerror(NULL));
    if (made.format == (SF_FORMAT_MPEG | SF_FORMAT_MPEG_LAYER_III)) {
        int mode = strcmp(argv[3], "mp3") ? SF_BITRATE_MODE_VARIABLE : SF_BITRATE_MODE_CONSTANT;
        sf_command(out, SFC_SET_BITRATE_MODE, &mode, sizeof mode);
    }
    for (sf_count_t n; (n = sf_readf_float(in, samples, 4096)) > 0;)
        if (sf_writef_float(out, samples, n) != n) return fail(argv[2], sf_strerror(out));
    free(samples);
    sf_close(in);
    return sf_close(out) ? fail(argv[2], "can't be written") : 0;
}
