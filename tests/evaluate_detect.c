/* How well cracks and rumbles agree with labels, beside two others: aubio's
 * onset command (a general-purpose onset detector) and a plain level follower
 * (what a sound-activated dimmer does), each with its best threshold.
 *
 *     evaluate_detect RECORDING...      those with NAME.labels.csv beside them,
 *                                       a table for each folder
 *     evaluate_detect --synth SYNTH     storms of the project's own synthesiser
 *
 * Weights 2 and 3 must be found, weight 1 is neither a miss nor a false alarm;
 * within 50 ms one to one. Rumbles over steps of 0.1 s. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "app/clip/listen_file.h"
#include "evaluate.h"
#include "io/files/read_form.h"
#include "marks/score.h"

/* ---- One labelled recording ---- */

struct subject {
    const char *path;
    int group;
    struct marks marks;
    struct tc_analysis heard;
};

static bool subject_open(struct subject *s, const char *path, size_t index)
{
    char labels[600];
    struct tc_problem why = { "" };
    struct tc_settings settings = tc_settings_default();
    if (!labels_beside(path, labels, sizeof labels)) return false;
    s->path = path;
    s->group = group_of(path, index);
    check(read_marks(labels, &s->marks, &why), &why);
    check(listen_file(path, &settings, &s->heard, NULL, &why), &why);
    return true;
}

static void subject_close(struct subject *s)
{
    marks_clear(&s->marks);
    tc_analysis_clear(&s->heard);
}

/* Adds what is found at a sensitivity. */
static void add_at(struct score *score, const struct subject *s, double sensitivity, double tolerance)
{
    size_t n;
    double *times = cracks_at(&s->heard, sensitivity, &n);
    check(score_add_cracks(score, s->marks.labels, s->marks.count, times, n, tolerance), NULL);
    check(score_add_rumbles(score, s->marks.labels, s->marks.count, s->heard.events, s->heard.event_count,
                            s->heard.length_ms), NULL);
    free(times);
}

/* ---- The others ---- */

/* A list of times that one detector finds in one recording. */
struct times {
    double *at;
    size_t count, room;
};

static void times_add(struct times *t, double at)
{
    if (t->count == t->room) {
        t->room = t->room ? 2 * t->room : 256;
        t->at = realloc(t->at, t->room * sizeof *t->at);
        if (!t->at) die("out of memory");
    }
    t->at[t->count++] = at;
}

/* Fires when the level (rise 2 ms, fall 100 ms) comes over a threshold under
 * the loudest, and again only after it was 3 dB below it. */
static void follow_level(const struct subject *s, double threshold_db, struct times *out)
{
    struct sound sound = sound_read(s->path);
    size_t channels = (size_t)sound.channels;
    float *level = room(sound.frames, sizeof *level);
    double up = 1 - exp(-1 / (0.002 * sound.rate)), down = 1 - exp(-1 / (0.100 * sound.rate));
    double now = 0, most = 0;
    for (size_t i = 0; i < sound.frames; i++) {
        double x = 0;
        for (size_t c = 0; c < channels; c++) x = fmax(x, fabs((double)sound.samples[i * channels + c]));
        now += (x > now ? up : down) * (x - now);
        most = fmax(most, now);
        level[i] = (float)now;
    }
    double over = most * pow(10, threshold_db / 20), under = over * pow(10, -3 / 20.0);
    bool armed = true;
    for (size_t i = 0; i < sound.frames; i++) {
        if (armed && (double)level[i] > over) {
            times_add(out, (double)i / sound.rate);
            armed = false;
        } else if ((double)level[i] < under) {
            armed = true;
        }
    }
    free(level);
    free(sound.samples);
}

static void ask_aubio(const struct subject *s, const char *method, double threshold, struct times *out)
{
    char quoted[1200], command[1400], line[64];
    size_t n = 0;
    quoted[n++] = '\'';
    for (const char *p = s->path; *p && n + 6 < sizeof quoted; p++) {
        if (*p == '\'') n += (size_t)snprintf(quoted + n, 5, "'\\''");
        else quoted[n++] = *p;
    }
    quoted[n++] = '\'';
    quoted[n] = 0;
    snprintf(command, sizeof command, "aubioonset -i %s -O %s -t %g -B 1024 -H 256 -M 0.1 2>/dev/null", quoted, method, threshold);
    FILE *in = popen(command, "r");
    if (!in) die("aubioonset can't be started");
    while (fgets(line, sizeof line, in)) times_add(out, atof(line));
    pclose(in);
}

static void add_times(struct score *score, const struct subject *s, struct times *t)
{
    check(score_add_cracks(score, s->marks.labels, s->marks.count, t->at, t->count, SCORE_TOLERANCE_S), NULL);
    free(t->at);
}

/* ---- Tables ---- */

static void print_row(const char *name, struct score *s, struct score *fine, bool rumbles)
{
    printf("%-34s %5zu %6zu %6zu  %5.3f %5.3f %5.3f", name, s->hits, s->misses, s->false_alarms, score_precision(s),
           score_recall(s), score_f(s));
    if (fine) printf("  %5.3f", score_f(fine));
    else printf("  %5s", "");
    printf("  %6.1f %6.1f", 1000 * score_error(s, 0.5), 1000 * score_error(s, 0.95));
    if (rumbles) printf("  %5.3f", score_rumble_f(s));
    putchar('\n');
    score_clear(s);
    if (fine) score_clear(fine);
}

static void print_head(const char *what)
{
    printf("\n%-34s %5s %6s %6s  %5s %5s %5s  %5s  %6s %6s  %5s\n", what, "hits", "missed", "false", "P", "R", "F",
           "F25", "median", "95 %", "rumble");
}

/* At the usual tolerance and at half of it. */
struct scores {
    struct score wide, fine;
};

static void scores_add(struct scores *to, const struct subject *s, double sensitivity)
{
    add_at(&to->wide, s, sensitivity, SCORE_TOLERANCE_S);
    add_at(&to->fine, s, sensitivity, SCORE_TOLERANCE_S / 2);
}

static void print_scores(const char *name, struct scores *s)
{
    print_row(name, &s->wide, &s->fine, true);
}

static void each_alone(const struct subject *s, size_t count, double sensitivity)
{
    print_head("each recording, as it comes");
    for (size_t i = 0; i < count; i++) {
        struct scores scores = { 0 };
        scores_add(&scores, &s[i], sensitivity);
        print_scores(name_of(s[i].path), &scores);
    }
}

enum { NO_GROUP = -1 };

/* The sensitivity that all but one group choose, or all. */
static double best_without(const struct subject *s, size_t count, int group)
{
    double f[SWEEP];
    for (int r = 0; r < SWEEP; r++) {
        struct score score = { 0 };
        for (size_t i = 0; i < count; i++)
            if (s[i].group != group) add_at(&score, &s[i], r * SWEEP_STEP, SCORE_TOLERANCE_S);
        f[r] = score_f(&score);
        score_clear(&score);
    }
    return choose_sensitivity(f);
}

static void all_together(const struct subject *s, size_t count)
{
    char name[80];
    struct scores usual = { 0 }, best = { 0 }, left_out = { 0 };
    double at = tc_settings_default().sensitivity;
    print_head("all together");
    for (size_t i = 0; i < count; i++) scores_add(&usual, &s[i], at);
    snprintf(name, sizeof name, "thundercue, sensitivity %.0f", at);
    print_scores(name, &usual);

    at = best_without(s, count, NO_GROUP);
    for (size_t i = 0; i < count; i++) scores_add(&best, &s[i], at);
    snprintf(name, sizeof name, "thundercue, chosen by all: %.0f", at);
    print_scores(name, &best);

    bool groups = false;
    for (size_t i = 1; i < count; i++) groups |= s[i].group != s[0].group;
    if (!groups) return;
    for (size_t i = 0; i < count; i++) scores_add(&left_out, &s[i], best_without(s, count, s[i].group));
    print_scores("thundercue, by the other groups", &left_out);
}

/* Keeps the better of two in the first, clears the other. */
static bool keep_better(struct score *best, struct score *score)
{
    bool better = score_f(score) > score_f(best);
    struct score worse = better ? *best : *score;
    if (better) *best = *score;
    score_clear(&worse);
    return better;
}

static void level_follower(const struct subject *s, size_t count)
{
    struct score best = { 0 };
    double best_db = 0;
    for (double db = -36; db <= -3; db += 3) {
        struct score score = { 0 };
        for (size_t i = 0; i < count; i++) {
            struct times t = { 0 };
            follow_level(&s[i], db, &t);
            add_times(&score, &s[i], &t);
        }
        if (keep_better(&best, &score)) best_db = db;
    }
    char name[80];
    snprintf(name, sizeof name, "level follower at %.0f dB", best_db);
    print_row(name, &best, NULL, false);
}

static void aubio(const struct subject *s, size_t count)
{
    static const char *const methods[] = { "hfc", "complex", "specflux", "mkl" };
    static const double thresholds[] = { 0.1, 0.2, 0.3, 0.5, 0.8, 1.2, 2 };
    if (system("command -v aubioonset >/dev/null 2>&1")) {
        puts("aubio: aubioonset is not installed (Debian package aubio-tools)");
        return;
    }
    for (size_t m = 0; m < sizeof methods / sizeof *methods; m++) {
        struct score best = { 0 };
        double best_threshold = 0;
        for (size_t k = 0; k < sizeof thresholds / sizeof *thresholds; k++) {
            struct score score = { 0 };
            for (size_t i = 0; i < count; i++) {
                struct times t = { 0 };
                ask_aubio(&s[i], methods[m], thresholds[k], &t);
                add_times(&score, &s[i], &t);
            }
            if (keep_better(&best, &score)) best_threshold = thresholds[k];
        }
        char name[80];
        snprintf(name, sizeof name, "aubio %s, threshold %g", methods[m], best_threshold);
        print_row(name, &best, NULL, false);
    }
}

/* ---- Labelled recordings ---- */

static size_t folder_length(const char *path)
{
    const char *slash = strrchr(path, '/');
    return slash ? (size_t)(slash - path) : 0;
}

static bool same_folder(const char *a, const char *b)
{
    return folder_length(a) == folder_length(b) && !strncmp(a, b, folder_length(a));
}

static int evaluate_recordings(char **paths, size_t count)
{
    struct subject *s = room(count, sizeof *s);
    for (size_t next = 0, n; next < count;) {
        const char *first = paths[next];
        for (n = 0; next < count && same_folder(paths[next], first); next++) n += subject_open(&s[n], paths[next], n);
        if (!n) continue;
        printf("\nCracks and rumbles against labels, in %.*s\n", folder_length(first) ? (int)folder_length(first) : 1,
               folder_length(first) ? first : ".");
        each_alone(s, n, tc_settings_default().sensitivity);
        all_together(s, n);
        level_follower(s, n);
        aubio(s, n);
        for (size_t i = 0; i < n; i++) subject_close(&s[i]);
        memset(s, 0, n * sizeof *s);
    }
    free(s);
    return 0;
}

/* ---- Synthesised storms ---- */

/* What is laid over the thunder, signal to noise in dB as the synthesiser has it. */
static const struct {
    const char *name, *options;
} weathers[] = {
    { "nothing but faint hiss", "--hiss 66" }, { "hiss 40 dB", "--hiss 40" }, { "hiss 30 dB", "--hiss 30" },
    { "rain 40 dB", "--rain 40 --rain-drops 46" }, { "rain 30 dB", "--rain 30 --rain-drops 36" },
    { "wind 30 dB", "--hiss 66 --wind 30" }, { "hum 30 dB", "--hiss 66 --hum 30" },
};

/* How far the lightning is. */
static const struct {
    const char *name;
    int from_m, each_m;
} distances[] = { { "near, 0.2 to 0.6 km", 200, 200 }, { "middle, 1 to 2.4 km", 1000, 700 }, { "far, 3.5 to 5.5 km", 3500, 1000 } };

enum { STORMS = 3, WEATHERS = sizeof weathers / sizeof *weathers, DISTANCES = sizeof distances / sizeof *distances };

static int evaluate_synth(const char *synth)
{
    char folder[] = "/tmp/thundercue-storms-XXXXXX", path[600], command[2000], name[100];
    if (!mkdtemp(folder)) die("no temporary folder can be made");
    struct score all = { 0 }, by_weather[WEATHERS] = { { 0 } }, by_distance[DISTANCES] = { { 0 } };
    for (int d = 0; d < DISTANCES; d++) {
        for (int w = 0; w < WEATHERS; w++) {
            for (int i = 0; i < STORMS; i++) {
                int metres = distances[d].from_m + i * distances[d].each_m;
                snprintf(path, sizeof path, "%s/s.wav", folder);
                snprintf(command, sizeof command,
                         "'%s' %s --labels %s/s.labels.csv --seed %d --seconds 12 --flash 1:%d %s >/dev/null 2>&1",
                         synth, path, folder, 100 * d + i + 1, metres, weathers[w].options);
                if (system(command)) die("the synthesiser failed");
                struct subject s = { 0 };
                if (!subject_open(&s, path, 0)) die("the synthesiser wrote no labels");
                double usual = tc_settings_default().sensitivity;
                add_at(&all, &s, usual, SCORE_TOLERANCE_S);
                add_at(&by_weather[w], &s, usual, SCORE_TOLERANCE_S);
                add_at(&by_distance[d], &s, usual, SCORE_TOLERANCE_S);
                subject_close(&s);
            }
        }
    }
    snprintf(name, sizeof name, "%d synthesised storms", DISTANCES * WEATHERS * STORMS);
    print_head(name);
    for (int d = 0; d < DISTANCES; d++) print_row(distances[d].name, &by_distance[d], NULL, true);
    for (int w = 0; w < WEATHERS; w++) print_row(weathers[w].name, &by_weather[w], NULL, true);
    print_row("all", &all, NULL, true);
    puts("\nTheir labels come from the storm's own geometry by a rule (samples/truth.h), which is not as\n"
         "sure as a person's reading: what counts is how the rows compare.");
    snprintf(path, sizeof path, "%s/s.wav", folder);
    unlink(path);
    snprintf(path, sizeof path, "%s/s.labels.csv", folder);
    unlink(path);
    rmdir(folder);
    return 0;
}

int main(int argc, char **argv)
{
    if (argc == 3 && !strcmp(argv[1], "--synth")) return evaluate_synth(argv[2]);
    if (argc > 1) return evaluate_recordings(argv + 1, (size_t)argc - 1);
    fputs("Usage: evaluate_detect RECORDING... | evaluate_detect --synth SYNTH\n", stderr);
    return 2;
}
