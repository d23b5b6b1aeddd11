/* What hearing is worth on labelled recordings (NAME.labels.csv beside
 * NAME.flac): as they are, with the sensitivity chosen on the other groups,
 * under noise, and in other clothes. Only the sensitivity is chosen so: the
 * detector's constants are fixed, and all groups have chosen them.
 *
 *     evaluate_hearing RECORDING...
 *
 * Cracks must be found, within 50 ms one to one; those of weight 1 are neither
 * a miss nor a false alarm. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "hearing/analyse.h"
#include "io/files/read_form.h"
#include "marks/score.h"
#include "sounds.h"
#include "words/model.h"
#include "words/units.h"

enum { MOST = 256 };

struct subject {
    char name[64];
    int group;
    struct sound sound;
    struct marks marks;
    struct tc_analysis heard;
};

static struct subject subjects[MOST];
static size_t subject_count;

/* ---- Recordings ---- */

static void hear(const struct sound *s, struct tc_analysis *out)
{
    struct tc_settings settings = tc_settings_default();
    check(tc_listen(s->samples, s->frames, s->rate, s->channels, &settings, NULL, out), NULL);
}

static void take(const char *path)
{
    struct tc_problem why = { "" };
    char labels[600];
    const char *name = name_of(path);
    if (subject_count == MOST || !labels_beside(path, labels, sizeof labels)) return;
    struct subject *s = &subjects[subject_count];
    snprintf(s->name, sizeof s->name, "%.*s", (int)stem_length(name), name);
    s->group = group_of(path, subject_count);
    s->sound = sound_read(path);
    check(read_marks(labels, &s->marks, &why), &why);
    hear(&s->sound, &s->heard);
    subject_count++;
}

/* ---- Scores ---- */

/* At the usual tolerance and at half of it. */
struct tally {
    struct score wide, narrow;
};

/* `later_s`: how much later everything is than the labels say. */
static void tally_add(struct tally *t, const struct subject *s, const struct tc_analysis *heard, double sensitivity, double later_s)
{
    size_t n;
    double *at = cracks_at(heard, sensitivity, &n);
    for (size_t i = 0; i < n; i++) at[i] -= later_s;
    check(score_add_cracks(&t->wide, s->marks.labels, s->marks.count, at, n, SCORE_TOLERANCE_S), NULL);
    check(score_add_cracks(&t->narrow, s->marks.labels, s->marks.count, at, n, SCORE_TOLERANCE_S / 2), NULL);
    free(at);
}

static void tally_clear(struct tally *t)
{
    score_clear(&t->wide);
    score_clear(&t->narrow);
}

static void print_head(const char *what)
{
    printf("\n%-30s %5s %6s %5s  %5s %5s %5s  %5s  %9s %9s  %6s\n", what, "hits", "missed", "false", "P", "R", "F", "F25",
           "weight 3", "weight 2", "median");
}

static void print_tally(const char *name, struct tally *t)
{
    size_t all = t->wide.hits + t->wide.misses;
    char three[32], two[32];
    snprintf(three, sizeof three, "%zu of %zu", t->wide.sure_hits, t->wide.sure);
    snprintf(two, sizeof two, "%zu of %zu", t->wide.hits - t->wide.sure_hits, all - t->wide.sure);
    printf("%-30s %5zu %6zu %5zu  %5.3f %5.3f %5.3f  %5.3f  %9s %9s  %6.1f\n", name, t->wide.hits, t->wide.misses,
           t->wide.false_alarms, score_precision(&t->wide), score_recall(&t->wide), score_f(&t->wide), score_f(&t->narrow),
           three, two, 1000 * score_error(&t->wide, 0.5));
    tally_clear(t);
}

/* ---- Groups left out ---- */

static bool is_other(int group, int than)
{
    return group != than;
}

/* -1: both halves. */
static bool is_in_half(int group, int half)
{
    return half < 0 || group % 2 == half;
}

/* F of some groups by sensitivity. */
static void sweep(bool (*in)(int, int), int of, double f[SWEEP])
{
    for (int i = 0; i < SWEEP; i++) {
        struct tally t = { 0 };
        for (size_t k = 0; k < subject_count; k++)
            if (in(subjects[k].group, of)) tally_add(&t, &subjects[k], &subjects[k].heard, i * SWEEP_STEP, 0);
        f[i] = score_f(&t.wide);
        tally_clear(&t);
    }
}

static void print_folds(void)
{
    struct tally all = { 0 };
    print_head("sensitivity by other groups");
    for (size_t i = 0; i < subject_count; i++) {
        struct tally fold = { 0 };
        char name[256] = "";
        bool first = true;
        for (size_t k = 0; k < i; k++) first &= subjects[k].group != subjects[i].group;
        if (!first) continue;
        double f[SWEEP];
        sweep(is_other, subjects[i].group, f);
        double sensitivity = choose_sensitivity(f);
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
        sweep(is_in_half, half, f);
        struct stretch s = stretch_of(f, 0.02);
        printf("%s: best F %.3f, within 0.02 of it from sensitivity %d to %d\n",
               half < 0 ? "\nall groups" : half ? "the odd groups" : "the even groups", f[s.best], s.first * SWEEP_STEP, s.last * SWEEP_STEP);
    }
}

/* Strengths of the cracks found, by the weight of their label, one without a
 * weight as clear as one of 2. */
enum { FALSE_ALARM, DOUBTFUL, CLEAR, UNMISTAKABLE, NEAR, KINDS }; /* NEAR: false, one that must be found within 0.15 s */
struct strengths {
    double sum[KINDS];
    size_t count[KINDS];
};

static int kind_of(const struct subject *s, size_t label, double at_s)
{
    if (label != SCORE_NONE) return s->marks.labels[label].weight ? s->marks.labels[label].weight : CLEAR;
    for (size_t l = 0; l < s->marks.count; l++) {
        const struct label *by_hand = &s->marks.labels[l];
        if (by_hand->event.kind != TC_CRACK || by_hand->weight == DOUBTFUL) continue;
        if (fabs((double)by_hand->event.start_ms / 1000 - at_s) <= 0.15) return NEAR;
    }
    return FALSE_ALARM;
}

static void add_strengths(struct strengths *to, const struct subject *s, const struct tc_analysis *heard, double later_s)
{
    double *at = room(heard->event_count, sizeof *at), *strength = room(heard->event_count, sizeof *strength);
    size_t *label_of = room(heard->event_count, sizeof *label_of), n = 0;
    for (size_t i = 0; i < heard->event_count; i++) {
        const struct tc_event *e = &heard->events[i];
        if (e->kind != TC_CRACK) continue;
        at[n] = (double)e->start_ms / 1000 - later_s;
        strength[n++] = (double)e->strength;
    }
    check(score_pair_cracks(s->marks.labels, s->marks.count, at, n, SCORE_TOLERANCE_S, label_of), NULL);
    for (size_t i = 0; i < n; i++) {
        int kind = kind_of(s, label_of[i], at[i]);
        to->sum[kind] += strength[i];
        to->count[kind]++;
    }
    free(at);
    free(strength);
    free(label_of);
}

static void print_strengths(const char *name, const struct strengths *s)
{
    static const struct {
        const char *name;
        int kind;
    } shown[] = { { "unmistakable", UNMISTAKABLE }, { "clear", CLEAR }, { "doubtful", DOUBTFUL },
                { "false", FALSE_ALARM }, { "false, but within 0.15 s of a clear one", NEAR } };
    printf("%s mean strength (cracks)", name);
    for (size_t i = 0; i < sizeof shown / sizeof *shown; i++) {
        size_t count = s->count[shown[i].kind];
        printf("%s %s %.2f (%zu)", i ? "," : ":", shown[i].name, s->sum[shown[i].kind] / (double)(count + !count), count);
    }
    puts("");
}

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

/* ---- What noise buries ---- */

/* Power of each band, by step. */
struct powers {
    float (*band)[BAND_COUNT];
    size_t count;
    int bands;
};

static struct powers powers_of(const struct sound *s)
{
    struct powers p = { room((size_t)((double)s->frames / s->rate * STEPS_A_SECOND) + 64, sizeof *p.band), 0, 0 };
    struct span in = { s->samples, s->frames };
    struct analyser *a;
    struct hearing h;
    check(analyser_create(&a, s->rate, s->channels), NULL);
    for (bool more = true; more;) {
        more = analyser_step(a, &in, &h) || analyser_flush(a, &h);
        if (!more) break;
        memcpy(p.band[p.count++], h.band, sizeof h.band);
        p.bands = h.bands;
    }
    analyser_destroy(a);
    return p;
}

/* A crack by its definition: the second greatest rise of a band, and that of a
 * band above 600 Hz, within 60 ms, over the 0.3 s before. `noise` is the mean
 * power that it lies under, so that the noise's own wobble does not count. */
static double rise_by_definition(const struct powers *p, const double *noise, int64_t step)
{
    enum { BEFORE = 60, WITHIN = 12, OVER = 4, HIGH = 7 };
    double rise[BAND_COUNT], first = 0, second = 0, high = 0;
    if (step < 4 || (size_t)step + WITHIN + OVER >= p->count) return 99;
    for (int b = 0; b < p->bands; b++) {
        double before = 0, most = -200;
        int64_t from = step > BEFORE ? step - BEFORE : 0;
        for (int64_t i = from; i < step - 2; i++) before += power_db((double)p->band[i][b] + noise[b]) / (double)(step - 2 - from);
        for (int64_t i = step - 2; i <= step + WITHIN; i++) {
            double after = 0;
            for (int k = 0; k < OVER; k++) after += power_db((double)p->band[i + k][b] + noise[b]) / OVER;
            most = fmax(most, after);
        }
        rise[b] = most - before;
        second = fmax(second, fmin(first, rise[b]));
        first = fmax(first, rise[b]);
        if (b >= HIGH) high = fmax(high, rise[b]);
    }
    return fmin(second, high);
}

/* Labelled cracks that must be found whose rise is under 4 dB: in the recording
 * as it is (`plain`), or once noise lies over it. */
static size_t buried(const struct subject *s, const struct powers *plain, const struct powers *noisy)
{
    double noise[BAND_COUNT] = { 0 };
    size_t n = 0, count = noisy->count < plain->count ? noisy->count : plain->count;
    for (int b = 0; b < plain->bands; b++) {
        for (size_t i = 0; i < count; i++) noise[b] += ((double)noisy->band[i][b] - (double)plain->band[i][b]) / (double)count;
        noise[b] = fmax(noise[b], 0) + 1e-11;
    }
    for (size_t i = 0; i < s->marks.count; i++) {
        const struct label *l = &s->marks.labels[i];
        if (l->event.kind == TC_CRACK && l->weight != 1) n += rise_by_definition(plain, noise, l->event.start_ms / STEP_MS) < 4;
    }
    return n;
}

/* Adds what is heard of a recording in a row of the clothes; its strengths unless NULL. */
static void add_dressed(struct tally *t, struct strengths *strengths, const struct subject *of, size_t row, size_t draw)
{
    struct sound s = sound_copy(&of->sound);
    struct tc_analysis heard;
    dress(&s, row, draw);
    hear(&s, &heard);
    tally_add(t, of, &heard, tc_settings_default().sensitivity, clothes[row].later_s);
    if (strengths) add_strengths(strengths, of, &heard, clothes[row].later_s);
    tc_analysis_clear(&heard);
    free(s.samples);
}

static void print_buried(size_t row)
{
    size_t under = 0, before = 0;
    for (size_t i = 0; i < subject_count; i++) {
        struct sound s = sound_copy(&subjects[i].sound);
        dress(&s, row, 0);
        struct powers bare = powers_of(&subjects[i].sound), noisy = powers_of(&s);
        under += buried(&subjects[i], &bare, &noisy);
        before += buried(&subjects[i], &bare, &bare);
        free(bare.band);
        free(noisy.band);
        free(s.samples);
    }
    printf("%34zu of them rise by less than 4 dB now, %zu did before\n", under, before);
}

/* How much of a row is the chance of its draw. */
static void print_draws(size_t row)
{
    enum { DRAWS = 4 };
    double least = 1, most = 0, sum = 0;
    for (size_t draw = 1; draw <= DRAWS; draw++) {
        struct tally t = { 0 };
        for (size_t i = 0; i < subject_count; i++) add_dressed(&t, NULL, &subjects[i], row, draw);
        double f = score_f(&t.wide);
        least = fmin(least, f);
        most = fmax(most, f);
        sum += f;
        tally_clear(&t);
    }
    printf("%34d more draws of it have F %.3f to %.3f, in the mean %.3f\n", DRAWS, least, most, sum / DRAWS);
}

static void print_clothes(void)
{
    print_head("at the default sensitivity");
    struct tally plain = { 0 };
    struct strengths clean = { 0 }, dirt = { 0 };
    for (size_t i = 0; i < subject_count; i++) {
        tally_add(&plain, &subjects[i], &subjects[i].heard, tc_settings_default().sensitivity, 0);
        add_strengths(&clean, &subjects[i], &subjects[i].heard, 0);
    }
    print_tally("as they are", &plain);
    for (size_t k = 0; k < sizeof clothes / sizeof *clothes; k++) {
        struct tally t = { 0 };
        for (size_t i = 0; i < subject_count; i++) add_dressed(&t, &dirt, &subjects[i], k, 0);
        print_tally(clothes[k].name, &t);
        if (!clothes[k].noise) continue;
        print_buried(k);
        print_draws(k);
    }
    print_again();
    puts("");
    print_strengths("as they are,", &clean);
    print_strengths("in all clothes,", &dirt);
}

int main(int argc, char **argv)
{
    for (int i = 1; i < argc; i++) take(argv[i]);
    if (!subject_count) {
        puts("evaluate: no recording has its labels beside it");
        return 0;
    }
    printf("\nCracks in %zu labelled recordings: constants fixed (chosen on all groups), sensitivity chosen on the other groups;\n"
           "by sensitivity; and in other clothes\n", subject_count);
    print_folds();
    print_sweep();
    print_plateaus();
    print_clothes();
    for (size_t i = 0; i < subject_count; i++) {
        marks_clear(&subjects[i].marks);
        tc_analysis_clear(&subjects[i].heard);
        free(subjects[i].sound.samples);
    }
    return 0;
}
