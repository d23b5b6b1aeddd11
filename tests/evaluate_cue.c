/* How good the cueing is, in numbers: lightning against its published
 * statistics, and what recordings become. For people; the tests hold the
 * bounds.
 *
 *     evaluate_cue [RECORDING...] */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "evaluate.h"
#include "storm.h"

#include "app/clip/listen_file.h"
#include "cueing/flash_draw.h"
#include "cueing/light.h"
#include "cueing/paths.h"
#include "cueing/thin.h"
#include "light/limit.h"
#include "light/player.h"
#include "io/files/read_form.h"
#include "words/units.h"

/* ---- Statistics of strokes ---- */

struct sums {
    size_t flashes, strokes, single, pairs, new_way, intervals;
    double log_interval, log_light;
};

static struct sums add_up(const struct tc_timeline *t)
{
    struct sums s = { 0 };
    for (size_t i = 0; i < t->stroke_count; i++) {
        const struct tc_stroke *k = &t->strokes[i], *before = i ? k - 1 : NULL, *next = k + 1;
        s.strokes++;
        if (!before || before->event != k->event) {
            s.flashes++;
            s.single += i + 1 == t->stroke_count || next->event != k->event;
            continue;
        }
        s.intervals++;
        s.log_interval += log10((k->frame - before->frame) * 1000.0 / (double)t->frame_rate);
        if (before->order) continue;
        s.pairs += k->order == 1;
        s.new_way += k->order == 1 && k->tip != before->tip;
    }
    return s;
}

static void print_sums(const char *name, const struct sums *s)
{
    printf("  %-34s %8.2f %8.1f %8.1f %8.1f\n", name, (double)s->strokes / (double)s->flashes,
           100.0 * (double)s->single / (double)s->flashes, pow(10, s->log_interval / (double)s->intervals),
           100.0 * (double)s->new_way / (double)s->pairs);
}

static void evaluate_statistics(void)
{
    enum { FLASHES = 10000 };
    struct tc_rig rig;
    struct randomiser r = random_keyed(1, 0, 0);
    struct tc_analysis a = storm_cracks(&r, FLASHES, 9000, true);
    struct tc_settings s = tc_settings_default();
    struct tc_timeline t;
    if (tc_rig_builtin(&rig) != TC_OK) return;
    for (size_t i = 0; i < a.event_count; i++) a.events[i].sharpness = 1;
    printf("%d flashes, 9 s apart            strokes   single  interval   new way\n"
           "                                     a flash      %%       ms        %%\n", FLASHES);
    printf("  %-34s %8s %8s %8s %8s\n", "published: Zhu 2015 (n = 1085)", "3.3", "30.5", "62", "");
    printf("  %-34s %8s %8s %8s %8s\n", "published: Thomson 1984 (n = 105)", "4.0", "", "69", "");
    printf("  %-34s %8s %8s %8s %8s\n", "published: Rakov & Uman 1990", "", "", "", "37");
    static const int64_t rates[] = { 120, 40 };
    for (size_t i = 0; i < 2; i++) {
        s.frame_rate = rates[i];
        struct tc_settings unlimited = s;
        unlimited.flash_limit = 0;
        if (tc_cue(&a, &rig, &unlimited, NULL, &t, NULL) != TC_OK) break;
        struct sums drawn = add_up(&t);
        char name[64];
        snprintf(name, sizeof name, "drawn, %lld light frames a second", (long long)rates[i]);
        print_sums(name, &drawn);
        size_t restrikes = t.stroke_count - FLASHES;
        if (thin_strokes(&t, &rig, &s, NULL) != TC_OK) break;
        struct sums left = add_up(&t);
        print_sums("  after the flash limit of 3", &left);
        printf("  %-34s %8.1f %% of restrikes survive\n", "", 100.0 * (double)(t.stroke_count - FLASHES) / (double)restrikes);
        tc_timeline_clear(&t);
    }
    tc_rig_clear(&rig);
    tc_analysis_clear(&a);
}

/* ---- Recordings ---- */

static double correlation(const double *x, const double *y, size_t n)
{
    double sx = 0, sy = 0, xx = 0, yy = 0, xy = 0;
    for (size_t i = 0; i < n; i++) sx += x[i], sy += y[i];
    for (size_t i = 0; i < n; i++) {
        double a = x[i] - sx / (double)n, b = y[i] - sy / (double)n;
        xx += a * a, yy += b * b, xy += a * b;
    }
    return xx > 0 && yy > 0 ? xy / sqrt(xx * yy) : 0;
}

/* The share of all light that shines from a crack on, for 0.3 s. */
static double at_cracks(const struct tc_analysis *a, const double *light, size_t n, int64_t rate)
{
    double all = 0, in = 0;
    for (size_t f = 0; f < n; f++) {
        int64_t ms = frame_ms((int64_t)f, rate);
        bool after = false;
        for (size_t i = 0; i < a->event_count; i++)
            after |= a->events[i].kind == TC_CRACK && ms + 1000 / rate > a->events[i].start_ms && ms < a->events[i].start_ms + 300;
        all += light[f];
        in += after ? light[f] : 0;
    }
    return all > 0 ? in / all : 0;
}

/* Labelled cracks of weight 2 and 3 within 50 ms of a found one whose light
 * rises in its own frame, of those found. */
static void evaluate_labels(const char *path, const struct tc_analysis *a, const double *light, int64_t rate)
{
    char labels[600];
    struct marks m;
    struct tc_problem why = { "" };
    size_t found = 0, rises = 0;
    if (!labels_beside(path, labels, sizeof labels)) return;
    check(read_marks(labels, &m, &why), &why);
    for (size_t i = 0; i < m.count; i++) {
        if (m.labels[i].event.kind != TC_CRACK || m.labels[i].weight == 1) continue;
        for (size_t k = 0; k < a->event_count; k++) {
            const struct tc_event *e = &a->events[k];
            if (e->kind != TC_CRACK || llabs(e->start_ms - m.labels[i].event.start_ms) > 50) continue;
            int64_t f = frame_at(e->start_ms, rate);
            found++;
            rises += light[f] > (f ? light[f - 1] : 0);
            break;
        }
    }
    printf("  labelled cracks found %zu, with a rise of light in their own frame %zu\n", found, rises);
    marks_clear(&m);
}

static void evaluate_recording(const char *path, const struct tc_rig *rig)
{
    struct tc_settings s = tc_settings_default();
    struct tc_analysis a = { 0 };
    struct tc_timeline t = { 0 };
    struct tc_player *p = NULL;
    struct tc_problem remark, why = { "" };
    if (listen_file(path, &s, &a, &remark, &why) != TC_OK) {
        fprintf(stderr, "%s\n", why.text);
        return;
    }
    check(tc_cue(&a, rig, &s, NULL, &t, NULL), NULL);
    size_t planned = t.stroke_count + t.dropped, restrikes = 0, heard = 0, ways[TC_MAX_CHANNELS] = { 0 }, tips = 0, all = 0;
    check(tc_player_create(&p, &t, rig, &s, NULL), NULL);
    double *light = room(t.frames, sizeof *light), *loud = room(t.frames, sizeof *loud), *follower = room(t.frames, sizeof *follower);
    uint16_t levels[TC_MAX_CHANNELS];
    size_t n = 0, dark = 0, causeless = 0;
    for (; tc_player_step(p, levels); n++) {
        light[n] = player_light(p, levels);
        uint8_t byte = n < a.envelope_count ? a.envelope[n] : 0;
        loud[n] = byte / 2.0;
        follower[n] = sqrt(level_byte_power(byte));
        dark += light[n] <= 0;
    }
    /* A rise of 2 % and more that no stroke explains. */
    for (size_t f = 0, k = 0; f < n; f++) {
        while (k < t.stroke_count && t.strokes[k].frame < f) k++;
        bool stroke = k < t.stroke_count && t.strokes[k].frame == f;
        causeless += !stroke && light[f] > (f ? light[f - 1] : 0) + 0.02;
    }
    for (size_t i = 0; i < t.stroke_count; i++) {
        restrikes += t.strokes[i].order > 0;
        heard += t.strokes[i].order > 0 && t.strokes[i].heard;
        if (t.strokes[i].tip == TC_NO_TIP) continue;
        tips += !ways[t.strokes[i].tip]++;
        all++;
    }
    double entropy = 0;
    for (size_t c = 0; c < TC_MAX_CHANNELS; c++)
        if (ways[c]) entropy -= (double)ways[c] / (double)all * log2((double)ways[c] / (double)all);
    printf("%s: %.1f s\n", name_of(path), (double)a.length_ms / 1000);
    printf("  strokes %zu, of them restrikes %zu (%zu heard); %zu of %zu planned survive the flash limit\n",
           t.stroke_count, restrikes, heard, t.stroke_count, planned);
    printf("  rises without a stroke %zu; dark %.0f %%; ways %zu, entropy of tips %.2f bits\n", causeless,
           100.0 * (double)dark / (double)n, tips, entropy);
    printf("  correlation with loudness %.2f (a level follower's %.2f); light within 0.3 s from a crack %.0f %% (%.0f %%)\n",
           correlation(light, loud, n), correlation(follower, loud, n), 100 * at_cracks(&a, light, n, s.frame_rate),
           100 * at_cracks(&a, follower, n, s.frame_rate));
    evaluate_labels(path, &a, light, s.frame_rate);
    free(light);
    free(loud);
    free(follower);
    tc_player_destroy(p);
    tc_timeline_clear(&t);
    tc_analysis_clear(&a);
}

int main(int argc, char **argv)
{
    struct tc_rig rig;
    evaluate_statistics();
    if (tc_rig_builtin(&rig) != TC_OK) return 1;
    for (int i = 1; i < argc; i++) evaluate_recording(argv[i], &rig);
    tc_rig_clear(&rig);
    return 0;
}
