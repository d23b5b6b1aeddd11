/* What the evaluations share: labelled recordings, which of them leave
 * together, and the choice of a sensitivity. For measuring; any failure ends it. */
#ifndef TC_TESTS_EVALUATE_H
#define TC_TESTS_EVALUATE_H

#include <sndfile.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "marks/score.h"
#include "words/model.h"

static inline void die(const char *what)
{
    fprintf(stderr, "evaluate: %s\n", what);
    exit(1);
}

static inline void check(enum tc_status status, const struct tc_problem *why)
{
    if (status != TC_OK) die(why && *why->text ? why->text : tc_status_text(status));
}

static inline void *room(size_t count, size_t size)
{
    void *new = calloc(count + 1, size);
    if (!new) die("out of memory");
    return new;
}

/* ---- Recordings ---- */

static inline const char *name_of(const char *path)
{
    const char *slash = strrchr(path, '/');
    return slash ? slash + 1 : path;
}

/* NAME, of folder/NAME.flac. */
static inline size_t stem_length(const char *name)
{
    const char *dot = strrchr(name, '.');
    return dot ? (size_t)(dot - name) : strlen(name);
}

/* NAME.labels.csv beside NAME.flac; false if there is none. */
static inline bool labels_beside(const char *path, char *labels, size_t size)
{
    const char *name = name_of(path);
    int n = snprintf(labels, size, "%.*s.labels.csv", (int)((size_t)(name - path) + stem_length(name)), path);
    return n > 0 && (size_t)n < size && !access(labels, R_OK);
}

/* Recordings in which the same thunder appears, or may, leave together: what is
 * chosen with one of them is not tried on another. One that is in no group is a
 * group of its own; `index` tells those apart. */
static inline int group_of(const char *path, size_t index)
{
    static const char *const together[][3] = {
        { "clip-15", "clip-18", "clip-22" }, { "thunder-b", "thunder-d", "" }, { "clip-07", "clip-19", "" },
    };
    enum { GROUPS = sizeof together / sizeof *together };
    const char *name = name_of(path);
    size_t length = stem_length(name);
    for (int g = 0; g < GROUPS; g++)
        for (int i = 0; i < 3; i++)
            if (length && strlen(together[g][i]) == length && !memcmp(name, together[g][i], length)) return g;
    return GROUPS + (int)index;
}

struct sound {
    float *samples;          /* interleaved */
    size_t frames;
    int channels;
    double rate;
};

/* At most an hour of a recording that doesn't tell its length. */
static inline struct sound sound_read(const char *path)
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

/* ---- Sensitivity ---- */

/* The times in s of the cracks found at a sensitivity. The caller frees them. */
static inline double *cracks_at(const struct tc_analysis *heard, double sensitivity, size_t *count)
{
    double *at = room(heard->candidate_count, sizeof *at);
    *count = 0;
    for (size_t i = 0; i < heard->candidate_count; i++)
        if ((double)heard->candidates[i].found_at <= sensitivity) at[(*count)++] = (double)heard->candidates[i].at_ms / 1000;
    return at;
}

/* F is measured at so many sensitivities. */
enum { SWEEP = 51, SWEEP_STEP = 2 };

/* The best, and the stretch around it whose F is as good within `within`. */
struct stretch {
    int best, first, last;
};

static inline struct stretch stretch_of(const double f[SWEEP], double within)
{
    struct stretch s = { 0, 0, 0 };
    for (int i = 1; i < SWEEP; i++)
        if (f[i] > f[s.best]) s.best = i;
    for (s.first = s.best; s.first > 0 && f[s.first - 1] >= f[s.best] - within; s.first--) continue;
    for (s.last = s.best; s.last + 1 < SWEEP && f[s.last + 1] >= f[s.best] - within; s.last++) continue;
    return s;
}

/* What is chosen by such a sweep: the middle of the stretch that is as good
 * within 0.005. The default, which all recordings have chosen, has no say. */
static inline double choose_sensitivity(const double f[SWEEP])
{
    struct stretch s = stretch_of(f, 0.005);
    return (s.first + s.last) / 2 * SWEEP_STEP;
}

#endif
