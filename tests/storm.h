/* Rigs and recordings made of random numbers, for property tests. */
#ifndef TC_TESTS_STORM_H
#define TC_TESTS_STORM_H

#include "check.h"

#include "thundercue.h"
#include "words/random.h"

/* A rig of LED channels; branch i grows from a branch before it, or is a root
 * (chance `roots`). The caller frees rig->channels. */
static inline struct tc_rig storm_rig(struct randomiser *r, size_t branches, size_t floods, double roots)
{
    struct tc_rig rig = { .channel_count = branches + floods };
    rig.channels = calloc(branches + floods + 1, sizeof *rig.channels);
    assert_non_null(rig.channels);
    for (size_t i = 0; i < branches + floods; i++) {
        struct tc_channel *c = &rig.channels[i];
        *c = (struct tc_channel){ .number = (int)i + 1, .kind = i < branches ? TC_BRANCH : TC_FLOOD,
                                  .parent = -1, .group = -1, .watts = i < branches ? 5 : 15, .max_level = 100 };
        if (i > 0 && i < branches && random_uniform(r) >= roots) c->parent = (int)random_below(r, (uint32_t)i);
    }
    return rig;
}

/* Cracks `apart` milliseconds from each other on average (exactly, if
 * `regular`), of any strength and sharpness, and no rumble. Free with
 * tc_analysis_clear. */
static inline struct tc_analysis storm_cracks(struct randomiser *r, size_t count, int64_t apart, bool regular)
{
    struct tc_analysis a = { .event_count = count, .sample_rate = 44100, .channels = 1,
                             .sensitivity = 50 };
    a.events = calloc(count + 1, sizeof *a.events);
    assert_non_null(a.events);
    int64_t at = apart / 2;
    for (size_t i = 0; i < count; i++) {
        a.events[i] = (struct tc_event){
            .kind = TC_CRACK, .start_ms = at, .end_ms = at, .peak_ms = at,
            .strength = (float)(1 + random_below(r, 100)) / 100, .sharpness = (float)random_below(r, 101) / 100,
            .level_dbfs = -20,
        };
        at += regular ? apart : 100 + (int64_t)random_below(r, (uint32_t)(2 * apart));
    }
    a.length_ms = at + apart;
    return a;
}

/* Adds a rumble over everything, with an envelope that rolls, and attacks too
 * faint for cracks. */
static inline void storm_rumble(struct tc_analysis *a, struct randomiser *r, int64_t frame_rate)
{
    a->envelope_count = (size_t)(a->length_ms * frame_rate / 1000 + 1);
    a->envelope = calloc(a->envelope_count, 1);
    a->candidates = calloc(a->envelope_count / 10 + 1, sizeof *a->candidates);
    struct tc_event *more = realloc(a->events, (a->event_count + 2) * sizeof *more);
    assert_true(a->envelope && a->candidates && more);
    a->events = more;
    memmove(more + 1, more, a->event_count++ * sizeof *more);
    more[0] = (struct tc_event){ .kind = TC_RUMBLE, .start_ms = 20, .end_ms = a->length_ms - 20,
                                 .peak_ms = 30, .strength = 1, .level_dbfs = -15 };
    double level = 200;
    for (size_t i = 0; i < a->envelope_count; i++) {
        level = fmin(fmax(level + 4 * random_normal(r), 120), 230);
        a->envelope[i] = (uint8_t)level;
        if (i % 10 == 5)
            a->candidates[a->candidate_count++] = (struct tc_candidate){
                .at_ms = (int64_t)i * 1000 / frame_rate, .found_at = (float)(51 + random_below(r, 49)),
                .loudness = 0.3f, .level_dbfs = -30 };
    }
}

#endif
