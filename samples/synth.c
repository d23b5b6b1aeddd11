/* synth: makes a storm and says where its cracks and rumbles are.
 *
 * Writes a mono recording and, if asked, its label file. The thunder is
 * thunder.h's, the labels are truth.h's, the rain is weather.h's. The storm is
 * made twice from the same seed, once to find out how loud it is and once to
 * write it, so that a recording of many hours needs no more memory than the
 * flashes that sound at the same time. Existing files are replaced. */
#include "thunder.h"
#include "truth.h"
#include "weather.h"

#include <math.h>
#include <sndfile.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { STATUS_DONE = 0, STATUS_USAGE = 2, STATUS_WRITE = 4, STATUS_MEMORY = 5 };

/* ---- Options ------------------------------------------------------------ */

enum { MOST_PLACES = 1000, MOST_FLASHES = 1000000 };

/* One flash of the storm: when its thunder is first heard, and how far it is. */
struct place {
    double at_s, distance_m;
};

struct plan {
    const char *out, *labels;
    double seed, seconds, rate, bits, flashes, near_m, far_m, celsius, peak_db;
    double weather_db[WEATHER_KINDS], rain_from_s;
    double distance_m[MOST_PLACES];
    struct place place[MOST_PLACES];
    size_t distances, places;
    bool help;
};

static const double none = INFINITY; /* SNR of weather that isn't there */

static struct plan plan_default(void)
{
    return (struct plan){
        .seed = 1, .seconds = 60, .rate = 44100, .bits = 16, .flashes = 3,
        .near_m = 500, .far_m = 6000, .celsius = 20, .peak_db = -1,
        .weather_db = { none, none, none, none, none },
    };
}

enum option_kind { NUMBER, WHOLE, TEXT, DISTANCES, PLACE, SWITCH };

struct option {
    const char *name, *argument;
    enum option_kind kind;
    size_t field;          /* offset in struct plan */
    double least, most;
    const char *help;
};

#define FIELD(f) offsetof(struct plan, f)
static const struct option options[] = {
    { "seed",     "N",   WHOLE,  FIELD(seed),     0, 0x1p53, "another seed, another storm [1]" },
    { "seconds",  "S",   NUMBER, FIELD(seconds),  0.1, 86400, "length of the recording [60]" },
    { "rate",     "HZ",  WHOLE,  FIELD(rate),     8000, 192000, "samples a second [44100]" },
    { "bits",     "N",   WHOLE,  FIELD(bits),     16, 24, "16 or 24 bits a sample [16]" },
    { "flashes",  "N",   WHOLE,  FIELD(flashes),  0, MOST_FLASHES, "flashes, spread over the length [3]" },
    { "near",     "M",   NUMBER, FIELD(near_m),   50, 25000, "distance of the nearest, mid-storm [500]" },
    { "far",      "M",   NUMBER, FIELD(far_m),    50, 25000, "distance of the first and the last [6000]" },
    { "distance", "M,M...", DISTANCES, 0,         50, 25000, "their distances instead, in turn" },
    { "flash",    "S:M", PLACE,  0,               50, 25000, "one flash: first heard at S, M metres away;\n"
                                                             "may be repeated, replaces --flashes" },
    { "celsius",  "T",   NUMBER, FIELD(celsius),  -40, 50, "temperature, for the speed of sound [20]" },
    { "peak",     "DB",  NUMBER, FIELD(peak_db),  -60, 0, "highest sample, dB below full scale [-1]" },
    { "rain",     "DB",  NUMBER, FIELD(weather_db[RAIN]), -20, 120, "rain this far under the thunder *" },
    { "rain-drops", "DB", NUMBER, FIELD(weather_db[DROPS]), -20, 120, "drops on the microphone's cover *" },
    { "rain-from", "S",  NUMBER, FIELD(rain_from_s), 0, 86400, "rain and drops begin here, over 4 s [0]" },
    { "wind",     "DB",  NUMBER, FIELD(weather_db[WIND]), -20, 120, "wind on the microphone *" },
    { "hum",      "DB",  NUMBER, FIELD(weather_db[HUM]),  -20, 120, "mains hum, 50 Hz *" },
    { "hiss",     "DB",  NUMBER, FIELD(weather_db[HISS]), -20, 120, "white noise *" },
    { "labels",   "CSV", TEXT,   FIELD(labels),   0, 0, "write the truth here: kind,start_s,end_s,weight" },
    { "help",     NULL,  SWITCH, FIELD(help),     0, 0, "this text" },
};
enum { OPTION_COUNT = sizeof options / sizeof *options };

static void show_help(void)
{
    puts("Usage: synth OUT.wav|OUT.flac [OPTION]...\n"
         "Makes a recording of a thunderstorm, and its true cracks and rumbles.\n");
    for (size_t i = 0; i < OPTION_COUNT; i++) {
        char left[40];
        snprintf(left, sizeof left, "--%s %s", options[i].name,
                 options[i].argument ? options[i].argument : "");
        const char *rest = options[i].help;
        printf("  %-20s", left);
        for (; *rest; rest++) {
            putchar(*rest);
            if (*rest == '\n') printf("  %-20s", "");
        }
        putchar('\n');
    }
    puts("\n  * signal to noise: RMS of the loudest second of the thunder over the RMS of\n"
         "    this noise, in dB. 20 is a nuisance, 40 is light, 0 drowns the storm.\n"
         "    Left out: none of it.");
}

static int complain(const char *name, const char *value, const char *right)
{
    fprintf(stderr, "synth: --%s: \"%s\" is not %s\n", name, value, right);
    return STATUS_USAGE;
}

/* A number within the option's bounds, ended by one of `ends`. */
static bool number(const struct option *o, const char *text, const char *ends, double *value,
                   const char **rest)
{
    char *end;
    const double x = strtod(text, &end);
    if (end == text || !strchr(ends, *end)) return false;
    if (!(x >= o->least && x <= o->most)) return false;
    if (o->kind == WHOLE && x != floor(x)) return false;
    *value = x;
    *rest = end;
    return true;
}

static int take_number(struct plan *p, const struct option *o, const char *text)
{
    char right[100];
    const char *rest;
    double *field = (double *)(void *)((char *)p + o->field);
    if (number(o, text, "", field, &rest)) return STATUS_DONE;
    snprintf(right, sizeof right, "a %snumber from %.15g to %.15g",
             o->kind == WHOLE ? "whole " : "", o->least, o->most);
    return complain(o->name, text, right);
}

static int take_distances(struct plan *p, const struct option *o, const char *text)
{
    for (const char *rest = text;; rest++) {
        if (p->distances == MOST_PLACES) return complain(o->name, text, "at most 1000 distances");
        if (!number(o, rest, ",", &p->distance_m[p->distances], &rest)) {
            return complain(o->name, text, "a list of metres from 50 to 25000, such as 4000,900");
        }
        p->distances++;
        if (!*rest) return STATUS_DONE;
    }
}

static int take_place(struct plan *p, const struct option *o, const char *text)
{
    const struct option time = { .kind = NUMBER, .least = 0, .most = 86400 };
    const char *rest;
    if (p->places == MOST_PLACES) return complain(o->name, text, "one of at most 1000 flashes");
    struct place *place = &p->place[p->places];
    if (!number(&time, text, ":", &place->at_s, &rest) || *rest != ':' ||
        !number(o, rest + 1, "", &place->distance_m, &rest)) {
        return complain(o->name, text, "SECONDS:METRES with 50 to 25000 m, such as 12.5:800");
    }
    p->places++;
    return STATUS_DONE;
}

static int take(struct plan *p, const struct option *o, const char *text)
{
    switch (o->kind) {
    case NUMBER:
    case WHOLE: return take_number(p, o, text);
    case DISTANCES: return take_distances(p, o, text);
    case PLACE: return take_place(p, o, text);
    case TEXT: *(const char **)(void *)((char *)p + o->field) = text; return STATUS_DONE;
    case SWITCH: *(bool *)((char *)p + o->field) = true; return STATUS_DONE;
    }
    return STATUS_USAGE;
}

static const struct option *option_find(const char *text, size_t length)
{
    for (size_t i = 0; i < OPTION_COUNT; i++) {
        if (strlen(options[i].name) == length && !strncmp(options[i].name, text, length)) {
            return &options[i];
        }
    }
    return NULL;
}

static int plan_read(struct plan *p, char **args)
{
    bool only_names = false;
    for (; *args; args++) {
        if (!only_names && !strcmp(*args, "--")) {
            only_names = true;
            continue;
        }
        if (only_names || strncmp(*args, "--", 2)) {
            if (p->out) {
                fprintf(stderr, "synth: \"%s\": one recording at a time, and \"%s\" is it\n", *args, p->out);
                return STATUS_USAGE;
            }
            p->out = *args;
            continue;
        }
        const char *name = *args + 2;
        const size_t length = strcspn(name, "=");
        const struct option *o = option_find(name, length);
        if (!o) {
            fprintf(stderr, "synth: there is no option \"%s\"; see synth --help\n", *args);
            return STATUS_USAGE;
        }
        const char *value = name[length] ? name + length + 1 : NULL;
        if (o->kind == SWITCH && value) {
            fprintf(stderr, "synth: --%s takes no value\n", o->name);
            return STATUS_USAGE;
        }
        if (o->kind != SWITCH && !value && !(value = *++args)) {
            fprintf(stderr, "synth: --%s needs a value: --%s %s\n", o->name, o->name, o->argument);
            return STATUS_USAGE;
        }
        const int status = take(p, o, value);
        if (status != STATUS_DONE) return status;
    }
    return STATUS_DONE;
}

static const struct {
    const char *ending;
    int form;
} forms[] = { { ".wav", SF_FORMAT_WAV }, { ".flac", SF_FORMAT_FLAC } };

static int form_of(const char *path)
{
    for (size_t i = 0; i < sizeof forms / sizeof *forms; i++) {
        const size_t length = strlen(path), ending = strlen(forms[i].ending);
        if (length > ending && !strcmp(path + length - ending, forms[i].ending)) return forms[i].form;
    }
    return 0;
}

static int plan_check(const struct plan *p)
{
    if (!p->out || !form_of(p->out)) {
        fprintf(stderr, "synth: name the recording to write, ending in .wav or .flac\n");
        return STATUS_USAGE;
    }
    if (p->bits != 16 && p->bits != 24) {
        fprintf(stderr, "synth: --bits: %g is neither 16 nor 24\n", p->bits);
        return STATUS_USAGE;
    }
    if (p->near_m > p->far_m) {
        fprintf(stderr, "synth: --near %g is farther than --far %g\n", p->near_m, p->far_m);
        return STATUS_USAGE;
    }
    return STATUS_DONE;
}

/* ---- The storm ---------------------------------------------------------- */

/* A flash that is sounding: its samples, and where in the recording they go. */
struct sounding {
    double *sound;
    size_t count;
    int64_t at;
};

enum { MOST_SOUNDING = 64, BLOCK = 16384 };

struct storm {
    const struct plan *plan;
    struct place *place; /* by time */
    size_t places;
    size_t next;         /* the first flash not heard yet */
    struct sounding sounding[MOST_SOUNDING];
    size_t sounding_count;
    double scale;
    double low_under;        /* see truth_rumbles */
    struct truth_labels *rumbles;  /* where to tell them, or NULL */
};

static int place_by_time(const void *a, const void *b)
{
    const struct place *one = a, *two = b;
    return (one->at_s > two->at_s) - (one->at_s < two->at_s);
}

/* Flashes at even distances in time, give or take a quarter; coming nearer by
 * the same factor each until the middle, then going away again. */
static struct place place_draw(const struct plan *p, size_t i, size_t count)
{
    struct dice d = dice_for((uint64_t)p->seed, UINT64_C(1) << 40 | i);
    const double between = p->seconds / (double)count;
    const double at = (double)i + 0.1 + 0.5 * dice_uniform(&d);
    const double away = count < 2 ? 0.0 : fabs(2.0 * (double)i / (double)(count - 1) - 1.0);
    return (struct place){
        .at_s = between * at,
        .distance_m = p->distances ? p->distance_m[i % p->distances]
                                   : p->near_m * pow(p->far_m / p->near_m, away),
    };
}

static bool storm_plan(struct storm *s)
{
    const struct plan *p = s->plan;
    s->places = p->places ? p->places : (size_t)p->flashes;
    s->place = calloc(s->places + 1, sizeof *s->place);
    if (!s->place) return false;
    for (size_t i = 0; i < s->places; i++) {
        s->place[i] = p->places ? p->place[i] : place_draw(p, i, s->places);
    }
    qsort(s->place, s->places, sizeof *s->place, place_by_time);
    return true;
}

static void storm_rewind(struct storm *s)
{
    for (size_t i = 0; i < s->sounding_count; i++) free(s->sounding[i].sound);
    s->sounding_count = 0;
    s->next = 0;
}

static void storm_clear(struct storm *s)
{
    storm_rewind(s);
    free(s->place);
}

/* Makes the sound of the next flash and sets it going. */
static bool storm_strike(struct storm *s)
{
    const struct plan *p = s->plan;
    const double speed = air_sound_speed(p->celsius);
    const struct place *place = &s->place[s->next];
    struct dice d = dice_for((uint64_t)p->seed, s->next);
    const struct bolt_form form = bolt_form_draw(place->distance_m, &d);
    struct bolt bolt = { 0 };
    struct sounding new = { .at = (int64_t)(place->at_s * p->rate) };
    bool good = bolt_grow(&bolt, &form, &d) && bolt_scatter(&bolt, &d);
    if (!good) goto done;

    double first_s, last_s;
    bolt_heard(&bolt, speed, &first_s, &last_s);
    const double wave_s = nwave_length(form.joules_per_m, speed);
    new.count = (size_t)((last_s - first_s + wave_s + 0.05) * p->rate);
    new.sound = calloc(new.count, sizeof *new.sound);
    good = new.sound != NULL;
    if (!good) goto done;
    bolt_sound(&bolt, speed, p->rate, first_s, new.sound, new.count);
    good = bolt_air(speed, p->rate, first_s, new.sound, new.count);
    for (size_t i = 0; good && i < new.count; i++) new.sound[i] *= s->scale;
    if (good && s->rumbles) {
        good = truth_rumbles(new.sound, new.count, p->rate, place->at_s, s->low_under, s->rumbles);
    }
done:
    bolt_clear(&bolt);
    if (!good) {
        free(new.sound);
        return false;
    }
    s->sounding[s->sounding_count++] = new;
    s->next++;
    return true;
}

/* The bare thunder of samples [at, at + count). A flash beyond the most that
 * can sound at once waits until one has ended. False when memory is out. */
static bool storm_block(struct storm *s, int64_t at, double *out, size_t count)
{
    const int64_t end = at + (int64_t)count;
    for (size_t i = 0; i < count; i++) out[i] = 0.0;
    while (s->next < s->places && s->place[s->next].at_s * s->plan->rate < (double)end &&
           s->sounding_count < MOST_SOUNDING) {
        if (!storm_strike(s)) return false;
    }
    size_t kept = 0;
    for (size_t k = 0; k < s->sounding_count; k++) {
        const struct sounding one = s->sounding[k];
        for (int64_t n = one.at > at ? one.at : at; n < end && n - one.at < (int64_t)one.count; n++) {
            out[n - at] += one.sound[n - one.at];
        }
        if (one.at + (int64_t)one.count > end) s->sounding[kept++] = one;
        else free(one.sound);
    }
    s->sounding_count = kept;
    return true;
}

/* ---- How loud it is ----------------------------------------------------- */

struct loudness {
    double peak, loudest_rms; /* of a sample; of a second */
};

static int64_t length_of(const struct plan *p)
{
    return (int64_t)ceil(p->seconds * p->rate);
}

static size_t block_at(const struct plan *p, int64_t at)
{
    const int64_t left = length_of(p) - at;
    return left < BLOCK ? (size_t)left : BLOCK;
}

/* Seconds are looked at every tenth of a second. */
static bool storm_measure(struct storm *s, struct loudness *l)
{
    static double block[BLOCK];
    const int64_t length = length_of(s->plan);
    const double tenth = s->plan->rate / 10.0;
    double power[10] = { 0 };
    int64_t tenths = 0;
    for (int64_t at = 0; at < length; at += BLOCK) {
        const size_t count = block_at(s->plan, at);
        if (!storm_block(s, at, block, count)) return false;
        for (size_t i = 0; i < count; i++) {
            if ((double)(at + (int64_t)i) >= (double)(tenths + 1) * tenth) power[++tenths % 10] = 0.0;
            power[tenths % 10] += block[i] * block[i];
            l->peak = fmax(l->peak, fabs(block[i]));
            if ((double)(at + (int64_t)i + 1) < (double)(tenths + 1) * tenth && at + (int64_t)i + 1 < length) {
                continue;
            }
            double sum = 0.0;
            for (int k = 0; k < 10; k++) sum += power[k];
            l->loudest_rms = fmax(l->loudest_rms, sqrt(sum / s->plan->rate));
        }
    }
    storm_rewind(s);
    return true;
}

/* ---- Writing ------------------------------------------------------------ */

/* What nobody minds beside the loudest thunder: an attack, a roll. */
static const double attack_floor_db = -50.0;
static const double roll_floor_db = -60.0;

/* Adds the mean square of the weather in each band, from its first ten seconds. */
static void weather_power(struct weather w, const double level[WEATHER_KINDS], double power[TRUTH_BANDS])
{
    struct truth_bands bands = truth_bands_begin(w.rate);
    const double count = 10.0 * w.rate;
    double sum[TRUTH_BANDS] = { 0 };
    for (double n = 0; n < count; n++) {
        double kinds[WEATHER_KINDS], x = 0.0;
        weather_step(&w, kinds);
        for (int k = 0; k < WEATHER_KINDS; k++) x += level[k] * kinds[k];
        truth_bands_step(&bands, x, sum);
    }
    for (int k = 0; k < TRUTH_BANDS; k++) power[k] += sum[k] / count;
}

/* How far the rain has set in at time t. */
static double rain_share(const struct plan *p, double t)
{
    const double fade_s = 4.0;
    return p->rain_from_s <= 0.0 ? 1.0 : fmin(fmax((t - p->rain_from_s) / fade_s, 0.0), 1.0);
}

/* Adds the weather of samples [at, at + count). */
static void weather_add(struct weather *w, const struct plan *p, const double level[WEATHER_KINDS],
                        int64_t at, double *out, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        double kinds[WEATHER_KINDS];
        weather_step(w, kinds);
        const double share = rain_share(p, (double)(at + (int64_t)i) / p->rate);
        kinds[RAIN] *= share;
        kinds[DROPS] *= share;
        for (int k = 0; k < WEATHER_KINDS; k++) out[i] += level[k] * kinds[k];
    }
}

static int write_failed(const char *path, const char *why)
{
    fprintf(stderr, "synth: %s: can't be written: %s\n", path, why);
    return STATUS_WRITE;
}

static int labels_write(const struct truth_labels *l, const char *path)
{
    FILE *f = fopen(path, "wb");
    if (!f) return write_failed(path, "no such folder, or not allowed");
    fprintf(f, "kind,start_s,end_s,weight\r\n");
    for (size_t i = 0; i < l->count; i++) {
        const struct truth_label *one = &l->list[i];
        if (one->kind == TRUTH_CRACK) fprintf(f, "crack,%.3f,,%d\r\n", one->start_s, one->weight);
        else fprintf(f, "rumble,%.3f,%.3f,\r\n", one->start_s, one->end_s);
    }
    const bool written = !ferror(f);
    const bool good = !fclose(f) && written;
    if (good) return STATUS_DONE;
    remove(path);
    return write_failed(path, "the disk may be full");
}

static SNDFILE *recording_open(const struct plan *p)
{
    const double riff_most = 4e9; /* bytes that fit a plain WAV file */
    int form = form_of(p->out);
    if (form == SF_FORMAT_WAV && p->seconds * p->rate * p->bits / 8.0 > riff_most) form = SF_FORMAT_RF64;
    SF_INFO info = {
        .samplerate = (int)p->rate,
        .channels = 1,
        .format = form | (p->bits == 24 ? SF_FORMAT_PCM_24 : SF_FORMAT_PCM_16),
    };
    SNDFILE *f = sf_open(p->out, SFM_WRITE, &info);
    if (f) sf_command(f, SFC_SET_CLIPPING, NULL, SF_TRUE);
    return f;
}

/* The storm with its weather into the file, its truth into *labels. */
static int storm_write(struct storm *s, const struct loudness *l, SNDFILE *file, struct truth_labels *labels)
{
    static double block[BLOCK];
    static struct truth truth;
    const struct plan *p = s->plan;
    double level[WEATHER_KINDS], noise = 0.0, under[TRUTH_BANDS] = { 0 };

    for (int k = 0; k < WEATHER_KINDS; k++) {
        level[k] = l->loudest_rms * pow(10.0, -p->weather_db[k] / 20.0);
        noise += level[k] * level[k];
    }
    /* Noise seldom goes beyond 4.5 times its RMS. */
    const double highest = l->peak + 4.5 * sqrt(noise);
    s->scale = highest > 0.0 ? pow(10.0, p->peak_db / 20.0) / highest : 1.0;
    for (int k = 0; k < WEATHER_KINDS; k++) level[k] *= s->scale;

    struct weather weather = { 0 };
    if (noise > 0.0) {
        weather = weather_begin(p->rate, (uint64_t)p->seed);
        weather_power(weather, level, under);
    }
    const double loudest_db = 20.0 * log10(fmax(s->scale * l->loudest_rms, 1e-6));
    s->low_under = truth_low(under) + pow(10.0, (loudest_db + roll_floor_db) / 10.0);
    for (int k = 0; k < TRUTH_BANDS; k++) under[k] += pow(10.0, (loudest_db + attack_floor_db) / 10.0);
    truth = truth_begin(p->rate, under);
    s->rumbles = labels;

    const int64_t length = length_of(p);
    for (int64_t at = 0; at < length; at += BLOCK) {
        const size_t count = block_at(p, at);
        if (!storm_block(s, at, block, count)) return STATUS_MEMORY;
        for (size_t i = 0; i < count; i++) {
            if (!truth_step(&truth, block[i], labels)) return STATUS_MEMORY;
        }
        if (noise > 0.0) weather_add(&weather, p, level, at, block, count);
        if (sf_write_double(file, block, (sf_count_t)count) != (sf_count_t)count) {
            return write_failed(p->out, sf_strerror(file));
        }
    }
    for (double n = 0; n < p->rate / 2.0; n++) {
        if (!truth_step(&truth, 0.0, labels)) return STATUS_MEMORY;
    }
    return STATUS_DONE;
}

/* Nothing is told beyond the end of the recording. */
static void labels_cut(struct truth_labels *l, double end_s)
{
    size_t kept = 0;
    for (size_t i = 0; i < l->count; i++) {
        struct truth_label one = l->list[i];
        if (one.start_s >= end_s) continue;
        one.end_s = fmin(one.end_s, end_s);
        l->list[kept++] = one;
    }
    l->count = kept;
}

static int storm_make(const struct plan *p)
{
    struct storm storm = { .plan = p, .scale = 1.0 };
    struct truth_labels labels = { 0 };
    struct loudness loud = { 0 };
    SNDFILE *file = NULL;
    int status = STATUS_MEMORY;
    if (!storm_plan(&storm) || !storm_measure(&storm, &loud)) goto done;

    file = recording_open(p);
    status = file ? storm_write(&storm, &loud, file, &labels) : write_failed(p->out, sf_strerror(NULL));
    if (file && sf_close(file) && status == STATUS_DONE) status = write_failed(p->out, "the disk may be full");
    if (file && status != STATUS_DONE) remove(p->out);
    if (status != STATUS_DONE || !p->labels) goto done;

    labels_cut(&labels, p->seconds);
    truth_labels_settle(&labels);
    status = labels_write(&labels, p->labels);
done:
    if (status == STATUS_MEMORY) fprintf(stderr, "synth: out of memory\n");
    truth_labels_clear(&labels);
    storm_clear(&storm);
    return status;
}

int main(int argc, char **argv)
{
    static struct plan plan;
    plan = plan_default();
    int status = plan_read(&plan, argc > 0 ? argv + 1 : argv);
    if (status != STATUS_DONE) return status;
    if (plan.help) {
        show_help();
        return fflush(stdout) ? STATUS_WRITE : STATUS_DONE;
    }
    status = plan_check(&plan);
    return status == STATUS_DONE ? storm_make(&plan) : status;
}
