/* A folder of three storms and a file that is none, to build evenings from. */
#ifndef TC_TESTS_EVENING_H
#define TC_TESTS_EVENING_H

#include "scratch.h"
#include "wav.h"

#include "app/night/night.h"

struct evening {
    char folder[256], clips[300], name[300];
    struct tc_rig rig;
    struct tc_settings settings;
    struct inputs inputs;
    struct night_outcome out;
    struct tc_problem why;
};

static inline void add_storm(const struct evening *e, const char *file, int channels, int rate, double seconds,
                             uint32_t seed)
{
    char path[600];
    struct bytes b = { 0 };
    wav_storm(&b, channels, rate, seconds, seed);
    snprintf(path, sizeof path, "%s/%s", e->clips, file);
    bytes_save(&b, path);
    free(b.data);
}

static inline struct evening evening_begin(void)
{
    struct evening e = { .settings = tc_settings_default() };
    scratch_make(e.folder, sizeof e.folder);
    snprintf(e.clips, sizeof e.clips, "%s/clips", e.folder);
    snprintf(e.name, sizeof e.name, "%s/eve", e.folder);
    assert_int_equal(mkdir(e.clips, 0777), 0);
    assert_int_equal(tc_rig_builtin(&e.rig), TC_OK);
    add_storm(&e, "a.wav", 1, 22050, 9.3, 1);
    add_storm(&e, "b.wav", 2, 44100, 7.1, 2);
    add_storm(&e, "c.wav", 3, 16000, 12.05, 3);
    char path[600];
    snprintf(path, sizeof path, "%s/broken.wav", e.clips);
    FILE *out = fopen(path, "w");
    assert_non_null(out);
    fputs("no sound", out);
    fclose(out);
    e.settings.seed = 4;
    return e;
}

static inline enum tc_status build(struct evening *e, const char *order, enum joined_form form)
{
    struct night_job job = { .folder = e->clips, .out = e->name, .order = order, .lufs = -23, .form = form, .bits = 16,
                             .jobs = 2,
                             .inputs = &e->inputs, .over = OVER_NOTHING, .day_s = NIGHT_NO_DAY, .preview = true,
                             .wish = { .length_ms = 90000, .gap_least_ms = 5000, .gap_most_ms = 9000 } };
    return night_run(&job, &e->rig, &e->settings, false, &e->out, &e->why);
}

static inline void forget(struct evening *e)
{
    night_clear(&e->out);
    inputs_clear(&e->inputs);
}

static inline void evening_end(struct evening *e)
{
    forget(e);
    tc_rig_clear(&e->rig);
    scratch_remove(e->folder);
}

#endif
