/* What hearing is worth on recordings that it was not tuned on, and in bad
 * weather: labelled recordings (NAME.labels.csv beside NAME.flac) as they are,
 * with whole groups left out when the sensitivity is chosen, under noise, and
 * in other clothes.
 *
 *     evaluate_hearing RECORDING...
 *
 * Cracks of weight 2 and 3 must be found, within 50 ms one to one; weight 1 is
 * neither a miss nor a false alarm. */
#include <math.h>
#include <samplerate.h>
#include <sndfile.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "io/files/read_form.h"
#include "marks/score.h"
#include "words/random.h"

#define TWO_PI 6.283185307179586
enum { MOST = 256, SWEEP = 51, SWEEP_STEP = 2 };

/* Recordings in which the same thunder appears, or may, leave together. */
static const char *const together[][3] = {
    { "clip-15", "clip-18", "clip-22" }, { "thunder-b", "thunder-d", "" }, { "clip-07", "clip-19", "" },
};

struct sound {
    float *samples;          /* interleaved */
    size_t frames;
    int channels;
    double rate;
};

struct subject {
    char name[64];
    int group;
    struct sound sound;
    struct marks all, sure;  /* `sure`: only weight 3 must be found */
    struct tc_analysis heard;
};

static struct subject subjects[MOST];
static size_t subject_count;

static void die(const char *what)
{
    fprintf(stderr, "evaluate: %s\n", what);
    exit(1);
}

static void check(enum tc_status status)
{
    if (status != TC_OK) die(tc_status_text(status));
}

static void *room(size_t count, size_t size)
{
    void *new = calloc(count + 1, size);
    if (!new) die("out of memory");
    return new;
}

/* ---- Recordings ---- */

static struct sound sound_read(const char *path)
{
    SF_INFO info = { 0 };
    SNDFILE *file = sf_open(path, SFM_READ, &info);
    if (!file) die("a recording can't be read");
    struct sound s = { NULL, 0, info.channels, info.samplerate };
    size_t most = (size_t)info.samplerate * 3600, channels = (size_t)info.channels;
    if (info.frames > 0 && (size_t)info.frames < most) most = (size_t)info.frames + 4096;
    s.samples = room(most * channels, sizeof *s.samples);
    for (sf_count_t n; s.frames < most && (n = sf_readf_float(file, s.samples + s.frames * channels, (sf_count_t)(most - s.frames))) > 0;)
        s.frames += (size_t)n;
    sf_close(file);
    return s;
}

static struct sound sound_copy(const struct sound *s)
{
    struct sound c = *s;
    c.samples = room(s->frames * (size_t)s->channels, sizeof *c.samples);
    memcpy(c.samples, s->samples, s->frames * (size_t)s->channels * sizeof *c.samples);
    return c;
}

static void hear(const struct sound *s, struct tc_analysis *out)
{
    struct tc_settings settings = tc_settings_default();
    check(tc_listen(s->samples, s->frames, s->rate, s->channels, &settings, NULL, out));
}

static int group_of(const char *name)
{
    for (size_t g = 0; g < sizeof together / sizeof *together; g++)
        for (int i = 0; i < 3; i++)
            if (!strcmp(name, together[g][i])) return (int)g;
    return (int)(sizeof together / sizeof *together + subject_count);
}

static void take(const char *path)
{
    struct tc_problem why = { "" };
    char labels[600];
    const char *slash = strrchr(path, '/'), *name = slash ? slash + 1 : path, *dot = strrchr(path, '.');
    if (!dot || dot < name || subject_count == MOST) return;
    snprintf(labels, sizeof labels, "%.*s.labels.csv", (int)(dot - path), path);
    if (access(labels, R_OK)) return;
    struct subject *s = &subjects[subject_count];
    snprintf(s->name, sizeof s->name, "%.*s", (int)(dot - name), name);
    s->group = group_of(s->name);
    s->sound = sound_read(path);
    if (read_marks(labels, &s->all, &why) != TC_OK || read_marks(labels, &s->sure, &why) != TC_OK) die(why.text);
    for (size_t i = 0; i < s->sure.count; i++)
        if (s->sure.labels[i].weight == 2) s->sure.labels[i].weight = 1;
    hear(&s->sound, &s->heard);
    subject_count++;
}

/* ---- Scores ---- */

/* All that must be found, at two tolerances, and the unmistakable alone. */
struct tally {
    struct score wide, narrow, sure;
};

/* `later_s`: how much later everything is than the labels say. */
static void tally_add(struct tally *t, const struct subject *s, const struct tc_analysis *heard, double sensitivity, double later_s)
{
    double *at = room(heard->candidate_count, sizeof *at);
    size_t n = 0;
    for (size_t i = 0; i < heard->candidate_count; i++)
        if ((double)heard->candidates[i].found_at <= sensitivity)
            at[n++] = (double)heard->candidates[i].at_ms / 1000 - later_s;
    check(score_add_cracks(&t->wide, s->all.labels, s->all.count, at, n, SCORE_TOLERANCE_S));
    check(score_add_cracks(&t->narrow, s->all.labels, s->all.count, at, n, SCORE_TOLERANCE_S / 2));
    check(score_add_cracks(&t->sure, s->sure.labels, s->sure.count, at, n, SCORE_TOLERANCE_S));
    free(at);
}

static void tally_clear(struct tally *t)
{
    score_clear(&t->wide);
    score_clear(&t->narrow);
    score_clear(&t->sure);
}

static void print_head(const char *what)
{
    printf("\n%-30s %5s %6s %5s  %5s %5s %5s  %5s  %9s %9s  %6s\n", what, "hits", "missed", "false", "P", "R", "F", "F25",
           "weight 3", "weight 2", "median");
}

static void print_tally(const char *name, struct tally *t)
{
    size_t all = t->wide.hits + t->wide.misses, sure = t->sure.hits + t->sure.misses;
    char three[32], two[32];
    snprintf(three, sizeof three, "%zu of %zu", t->sure.hits, sure);
    snprintf(two, sizeof two, "%zu of %zu", t->wide.hits > t->sure.hits ? t->wide.hits - t->sure.hits : 0, all - sure);
    printf("%-30s %5zu %6zu %5zu  %5.3f %5.3f %5.3f  %5.3f  %9s %9s  %6.1f\n", name, t->wide.hits, t->wide.misses,
           t->wide.false_alarms, score_precision(&t->wide), score_recall(&t->wide), score_f(&t->wide), score_f(&t->narrow),
           three, two, 1000 * score_error(&t->wide, 0.5));
    tally_clear(t);
}

/* ---- Groups left out ---- */

static double f_without(int group, double sensitivity)
{
    struct tally t = { 0 };
    for (size_t i = 0; i < subject_count; i++)
        if (subjects[i].group != group) tally_add(&t, &subjects[i], &subjects[i].heard, sensitivity, 0);
    double f = score_f(&t.wide);
    tally_clear(&t);
    return f;
}

/* The middle of the stretch around the best whose F is as good within 0.005. */
static double best_without(int group)
{
    double f[SWEEP];
    int best = 0, first, last;
    for (int i = 0; i < SWEEP; i++) {
        f[i] = f_without(group, i * SWEEP_STEP);
        if (f[i] > f[best]) best = i;
    }
    for (first = best; first > 0 && f[first - 1] >= f[best] - 0.005; first--) continue;
    for (last = best; last + 1 < SWEEP && f[last + 1] >= f[best] - 0.005; last++) continue;
    return (first + last) / 2 * SWEEP_STEP;
}

static void print_folds(void)
{
    struct tally all = { 0 };
    print_head("left out, sensitivity by others");
    for (size_t i = 0; i < subject_count; i++) {
        struct tally fold = { 0 };
        char name[256] = "";
        bool first = true;
        for (size_t k = 0; k < i; k++) first &= subjects[k].group != subjects[i].group;
        if (!first) continue;
        double sensitivity = best_without(subjects[i].group);
        for (size_t k = 0; k < subject_count; k++) {
            if (subjects[k].group != subjects[i].group) continue;
            if (strlen(name) + strlen(subjects[k].name) + 16 < sizeof name) strcat(strcat(name, subjects[k].name), " ");
            tally_add(&fold, &subjects[k], &subjects[k].heard, sensitivity, 0);
            tally_add(&all, &subjects[k], &subjects[k].heard, sensitivity, 0);
        }
        char at[16];
        snprintf(at, sizeof at, "at %.0f", sensitivity);
        print_tally(strcat(name, at), &fold);
    }
    print_tally("all", &all);
}

/* ---- Sensitivity, and the light of what is false ---- */

static void print_sweep(void)
{
    print_head("sensitivity, all recordings");
    for (int at = 0; at <= 100; at += 10) {
        struct tally t = { 0 };
        char name[32];
        snprintf(name, sizeof name, "%d", at);
        for (size_t i = 0; i < subject_count; i++) tally_add(&t, &subjects[i], &subjects[i].heard, at, 0);
        print_tally(name, &t);
    }
}

/* The sensitivities at which F is as good as the best within 0.02, on all groups
 * and on each half of them: the default should lie inside. */
static void print_plateaus(void)
{
    for (int half = -1; half < 2; half++) {
        double f[SWEEP];
        int best = 0, first, last;
        for (int i = 0; i < SWEEP; i++) {
            struct tally t = { 0 };
            for (size_t k = 0; k < subject_count; k++)
                if (half < 0 || subjects[k].group % 2 == half) tally_add(&t, &subjects[k], &subjects[k].heard, i * SWEEP_STEP, 0);
            f[i] = score_f(&t.wide);
            if (f[i] > f[best]) best = i;
            tally_clear(&t);
        }
        for (first = best; first > 0 && f[first - 1] >= f[best] - 0.02; first--) continue;
        for (last = best; last + 1 < SWEEP && f[last + 1] >= f[best] - 0.02; last++) continue;
        printf("%s: best F %.3f, within 0.02 of it from sensitivity %d to %d\n",
               half < 0 ? "\nall groups" : half ? "the odd groups" : "the even groups", f[best], first * SWEEP_STEP, last * SWEEP_STEP);
    }
}

/* Strengths of the cracks found, by the weight of their label; 0: none. */
struct strengths {
    double sum[4];
    size_t count[4];
};

static void add_strengths(struct strengths *s, const struct subject *of, const struct tc_analysis *heard, double later_s)
{
    for (size_t k = 0; k < heard->event_count; k++) {
        const struct tc_event *e = &heard->events[k];
        int weight = 0;
        if (e->kind != TC_CRACK) continue;
        for (size_t l = 0; l < of->all.count; l++) {
            const struct label *by_hand = &of->all.labels[l];
            double off = (double)(by_hand->event.start_ms - e->start_ms) + 1000 * later_s;
            if (by_hand->event.kind == TC_CRACK && fabs(off) <= 1000 * SCORE_TOLERANCE_S && by_hand->weight > weight) weight = by_hand->weight;
        }
        s->sum[weight] += (double)e->strength;
        s->count[weight]++;
    }
}

static void print_strengths(const char *name, const struct strengths *s)
{
    printf("%s mean strength (cracks): unmistakable %.2f (%zu), clear %.2f (%zu), doubtful %.2f (%zu), false %.2f (%zu)\n", name,
           s->sum[3] / (double)(s->count[3] + !s->count[3]), s->count[3], s->sum[2] / (double)(s->count[2] + !s->count[2]), s->count[2],
           s->sum[1] / (double)(s->count[1] + !s->count[1]), s->count[1], s->sum[0] / (double)(s->count[0] + !s->count[0]), s->count[0]);
}

/* ---- Weather ---- */

/* RMS of the loudest 0.1 s, over all channels. */
static double loudest(const struct sound *s)
{
    size_t each = (size_t)(s->rate / 10), channels = (size_t)s->channels;
    double most = 0;
    for (size_t at = 0; at < s->frames; at += each) {
        size_t n = s->frames - at < each ? s->frames - at : each;
        double sum = 0;
        for (size_t i = at * channels; i < (at + n) * channels; i++) sum += (double)s->samples[i] * (double)s->samples[i];
        most = fmax(most, sum / (double)(each * channels));
    }
    return sqrt(most);
}

static void noise_hiss(float *x, size_t n, double rate, struct randomiser *dice)
{
    (void)rate;
    for (size_t i = 0; i < n; i++) x[i] = (float)random_normal(dice);
}

/* Sum of octave-spaced generators that change each 2^k samples (R. Voss, as
 * told by M. Gardner, Scientific American, April 1978). */
static void noise_pink(float *x, size_t n, double rate, struct randomiser *dice)
{
    enum { OCTAVES = 14 };
    double part[OCTAVES] = { 0 };
    (void)rate;
    for (size_t i = 0; i < n; i++) {
        double sum = random_normal(dice);
        for (int k = 0; k < OCTAVES; k++) {
            if (i % ((size_t)1 << k) == 0) part[k] = random_normal(dice);
            sum += part[k];
        }
        x[i] = (float)sum;
    }
}

/* Drops come as a Poisson process, ring for 2 to 6 ms at 0.9 to 4.5 kHz. */
static void add_drops(float *x, size_t n, double rate, struct randomiser *dice, double each_s, double size)
{
    for (double at = 0;;) {
        at -= log(1 - random_uniform(dice)) / each_s;
        if (at * rate >= (double)n) return;
        double fade = 0.002 + 0.004 * random_uniform(dice), hz = fmin(900 + 3600 * random_uniform(dice), 0.45 * rate);
        double strength = size * exp(0.7 * random_normal(dice));
        for (size_t i = (size_t)(at * rate), k = 0; i < n && (double)k < 6 * fade * rate; i++, k++)
            x[i] += (float)(strength * exp(-(double)k / rate / fade) * sin(TWO_PI * hz * (double)k / rate));
    }
}

static void noise_rain(float *x, size_t n, double rate, struct randomiser *dice)
{
    noise_hiss(x, n, rate, dice);
    add_drops(x, n, rate, dice, 15, 4);
}

static void noise_drops(float *x, size_t n, double rate, struct randomiser *dice)
{
    add_drops(x, n, rate, dice, 4, 1);
}

static void add_noise(struct sound *s, void (*make)(float *, size_t, double, struct randomiser *), double db)
{
    struct randomiser dice = random_keyed(11, s->frames, 3);
    float *noise = room(s->frames, sizeof *noise);
    make(noise, s->frames, s->rate, &dice);
    double sum = 0;
    for (size_t i = 0; i < s->frames; i++) sum += (double)noise[i] * (double)noise[i];
    double by = loudest(s) * pow(10, db / 20) / sqrt(sum / (double)s->frames + 1e-20);
    for (size_t i = 0; i < s->frames; i++)
        for (int c = 0; c < s->channels; c++) s->samples[i * (size_t)s->channels + (size_t)c] += (float)(by * (double)noise[i]);
    free(noise);
}

static void dress_hiss(struct sound *s, double db) { add_noise(s, noise_hiss, db); }
static void dress_pink(struct sound *s, double db) { add_noise(s, noise_pink, db); }
static void dress_rain(struct sound *s, double db) { add_noise(s, noise_rain, db); }
static void dress_drops(struct sound *s, double db) { add_noise(s, noise_drops, db); }

static void dress_gain(struct sound *s, double db)
{
    for (size_t i = 0; i < s->frames * (size_t)s->channels; i++) s->samples[i] *= (float)pow(10, db / 20);
}

static float peak(const struct sound *s)
{
    float most = 1e-20f;
    for (size_t i = 0; i < s->frames * (size_t)s->channels; i++) most = fmaxf(most, fabsf(s->samples[i]));
    return most;
}

static void dress_clip(struct sound *s, double db)
{
    dress_gain(s, db - 20 * log10((double)peak(s)));
    for (size_t i = 0; i < s->frames * (size_t)s->channels; i++) s->samples[i] = fmaxf(-1, fminf(1, s->samples[i]));
}

static void dress_offset(struct sound *s, double by)
{
    for (size_t i = 0; i < s->frames * (size_t)s->channels; i++) s->samples[i] += (float)by;
}

/* The second of two channels turned over; a lone one gets such a second. */
static void dress_opposite(struct sound *s, double unused)
{
    (void)unused;
    size_t channels = (size_t)s->channels;
    float *both = room(2 * s->frames, sizeof *both);
    for (size_t i = 0; i < s->frames; i++) {
        both[2 * i] = s->samples[i * channels];
        both[2 * i + 1] = -s->samples[i * channels + (channels > 1)];
    }
    free(s->samples);
    s->samples = both;
    s->channels = 2;
}

static void resample(struct sound *s, double rate)
{
    size_t channels = (size_t)s->channels, most = (size_t)((double)s->frames * rate / s->rate) + 16;
    float *to = room(most * channels, sizeof *to);
    SRC_DATA d = { .data_in = s->samples, .input_frames = (long)s->frames, .data_out = to, .output_frames = (long)most,
                   .src_ratio = rate / s->rate };
    if (src_simple(&d, SRC_SINC_MEDIUM_QUALITY, s->channels)) die("a rate can't be changed");
    free(s->samples);
    s->samples = to;
    s->frames = (size_t)d.output_frames_gen;
    s->rate = rate;
}

static void dress_rate(struct sound *s, double rate)
{
    if (rate > s->rate && rate < 40000) return; /* recordings below it stay as they are */
    resample(s, rate);
}

/* Out of a codec that has left out the highs, at the rate that it came with. */
static void dress_low_pass(struct sound *s, double hz)
{
    double rate = s->rate;
    if (2 * hz > rate) return;
    dress_rate(s, 2 * hz);
    resample(s, rate);
}

/* A limiter: level with 2 ms up and 150 ms down; over -18 dB of the peak a rise
 * of 10 dB leaves 3. */
static void dress_limit(struct sound *s, double share)
{
    double up = 1 - exp(-1 / (0.002 * s->rate)), down = 1 - exp(-1 / (0.15 * s->rate)), from = 0.126 * (double)peak(s), level = 0;
    size_t channels = (size_t)s->channels;
    for (size_t i = 0; i < s->frames; i++) {
        double now = 0;
        for (size_t c = 0; c < channels; c++) now = fmax(now, fabs((double)s->samples[i * channels + c]));
        level += (now > level ? up : down) * (now - level);
        for (size_t c = 0; level > from && c < channels; c++) s->samples[i * channels + c] *= (float)pow(from / level, share);
    }
}

/* The same, after itself so much louder, a faint hiss of 20 s between. */
static void dress_after(struct sound *s, double db)
{
    struct randomiser dice = random_keyed(12, s->frames, 3);
    size_t gap = (size_t)(20 * s->rate), channels = (size_t)s->channels, n = s->frames;
    float *to = room((2 * n + gap) * channels, sizeof *to), soft = (float)pow(10, -db / 20);
    float hiss = (float)(loudest(s) * pow(10, -4)) * soft;
    for (size_t i = 0; i < n * channels; i++) {
        to[i] = s->samples[i];
        to[(n + gap) * channels + i] = soft * s->samples[i];
    }
    for (size_t i = n * channels; i < (n + gap) * channels; i++) to[i] = hiss * (float)random_normal(&dice);
    free(s->samples);
    s->samples = to;
    s->frames = 2 * n + gap;
}

static void dress_bits(struct sound *s, double bits)
{
    float steps = (float)pow(2, bits - 1);
    for (size_t i = 0; i < s->frames * (size_t)s->channels; i++) s->samples[i] = floorf(s->samples[i] * steps + 0.5f) / steps;
}

/* Digital silence before and after. */
static void dress_padding(struct sound *s, double seconds)
{
    size_t more = (size_t)(seconds * s->rate), channels = (size_t)s->channels;
    float *to = room((s->frames + 2 * more) * channels, sizeof *to);
    memcpy(to + more * channels, s->samples, s->frames * channels * sizeof *to);
    free(s->samples);
    s->samples = to;
    s->frames += 2 * more;
}

static const struct {
    const char *name;
    void (*dress)(struct sound *, double);
    double by, later_s;
} clothes[] = {
    { "hiss 20 dB under the loudest", dress_hiss, -20, 0 }, { "hiss 30 dB under", dress_hiss, -30, 0 },
    { "pink noise 20 dB under", dress_pink, -20, 0 }, { "pink noise 30 dB under", dress_pink, -30, 0 },
    { "rain 20 dB under", dress_rain, -20, 0 }, { "rain 30 dB under", dress_rain, -30, 0 },
    { "drops 20 dB under", dress_drops, -20, 0 }, { "drops 30 dB under", dress_drops, -30, 0 },
    { "clipped by 6 dB", dress_clip, 6, 0 }, { "clipped by 12 dB", dress_clip, 12, 0 },
    { "at -40 dB", dress_gain, -40, 0 }, { "at +12 dB, over full scale", dress_gain, 12, 0 },
    { "with an offset of 0.3", dress_offset, 0.3, 0 }, { "in opposite phase", dress_opposite, 0, 0 },
    { "limited, 10 dB become 3", dress_limit, 0.7, 0 },
    { "at 8 kHz", dress_rate, 8000, 0 }, { "at 11.025 kHz", dress_rate, 11025, 0 },
    { "with nothing above 4 kHz", dress_low_pass, 4000, 0 },
    { "at 22.05 kHz", dress_rate, 22050, 0 }, { "at 48 kHz", dress_rate, 48000, 0 }, { "at 96 kHz", dress_rate, 96000, 0 },
    { "in 16 bits", dress_bits, 16, 0 }, { "in 8 bits", dress_bits, 8, 0 },
    { "in 2 s of digital silence", dress_padding, 2, 2 },
};

/* Of a recording that comes again, softer, what is found the second time. */
static void print_again(void)
{
    for (int db = 10; db <= 30; db += 10) {
        struct tally t = { 0 };
        char name[64];
        for (size_t i = 0; i < subject_count; i++) {
            struct sound s = sound_copy(&subjects[i].sound);
            double later_s = (double)s.frames / s.rate + 20;
            struct tc_analysis heard;
            dress_after(&s, db);
            hear(&s, &heard);
            size_t first = 0;
            while (first < heard.candidate_count && (double)heard.candidates[first].at_ms < 1000 * later_s - 60) first++;
            memmove(heard.candidates, heard.candidates + first, (heard.candidate_count - first) * sizeof *heard.candidates);
            heard.candidate_count -= first;
            tally_add(&t, &subjects[i], &heard, tc_settings_default().sensitivity, later_s);
            tc_analysis_clear(&heard);
            free(s.samples);
        }
        snprintf(name, sizeof name, "again, %d dB softer, 20 s later", db);
        print_tally(name, &t);
    }
}

static void print_clothes(void)
{
    double usual = tc_settings_default().sensitivity;
    print_head("at the default sensitivity");
    struct tally plain = { 0 };
    struct strengths clean = { 0 }, dirt = { 0 };
    for (size_t i = 0; i < subject_count; i++) {
        tally_add(&plain, &subjects[i], &subjects[i].heard, usual, 0);
        add_strengths(&clean, &subjects[i], &subjects[i].heard, 0);
    }
    print_tally("as they are", &plain);
    for (size_t k = 0; k < sizeof clothes / sizeof *clothes; k++) {
        struct tally t = { 0 };
        for (size_t i = 0; i < subject_count; i++) {
            struct sound s = sound_copy(&subjects[i].sound);
            struct tc_analysis heard;
            clothes[k].dress(&s, clothes[k].by);
            hear(&s, &heard);
            tally_add(&t, &subjects[i], &heard, usual, clothes[k].later_s);
            add_strengths(&dirt, &subjects[i], &heard, clothes[k].later_s);
            tc_analysis_clear(&heard);
            free(s.samples);
        }
        print_tally(clothes[k].name, &t);
    }
    print_again();
    puts("");
    print_strengths("as they are:", &clean);
    print_strengths("in all clothes:", &dirt);
}

int main(int argc, char **argv)
{
    for (int i = 1; i < argc; i++) take(argv[i]);
    if (!subject_count) {
        puts("evaluate: no recording has its labels beside it");
        return 0;
    }
    printf("\nCracks in %zu labelled recordings, on those left out, by sensitivity, and in other clothes\n", subject_count);
    print_folds();
    print_sweep();
    print_plateaus();
    print_clothes();
    for (size_t i = 0; i < subject_count; i++) {
        marks_clear(&subjects[i].all);
        marks_clear(&subjects[i].sure);
        tc_analysis_clear(&subjects[i].heard);
        free(subjects[i].sound.samples);
    }
    return 0;
}
