#include "light/reached.h"

#include <math.h>

#include "light/player.h"
#include "words/memory.h"
#include "words/watch.h"

/* How often the caller is asked whether to stop. */
enum { ASKED = 200 };

/* One of the two runs. */
struct dry_run {
    struct tc_player *player;
    double before, now;      /* summed light of the last two frames */
};

static bool step(struct dry_run *d, uint16_t *levels)
{
    d->before = d->now;
    if (!tc_player_step(d->player, levels)) return false;
    d->now = player_light(d->player, levels);
    return true;
}

enum tc_status strokes_reached(const struct tc_timeline *t, const struct tc_rig *rig, const struct tc_settings *s,
                               const struct tc_watch *watch, float *share)
{
    struct dry_run limited = { 0 }, full = { 0 };
    struct tc_settings unlimited = *s;
    unlimited.flash_limit = 0;
    uint16_t *levels = memory_new(rig->channel_count + 1, sizeof *levels);
    enum tc_status status = levels ? TC_OK : TC_ERR_MEMORY;
    if (status == TC_OK) status = tc_player_create(&limited.player, t, rig, s, NULL);
    if (status == TC_OK) status = tc_player_create(&full.player, t, rig, &unlimited, NULL);
    size_t stroke = 0;
    for (uint32_t f = 0; status == TC_OK && step(&limited, levels) && step(&full, levels); f++) {
        if (f % (t->frames / ASKED + 1) == 0) status = watch_tell(watch, (double)f / (double)t->frames);
        for (; stroke < t->stroke_count && t->strokes[stroke].frame <= f; stroke++) {
            double asked = full.now - full.before, given = limited.now - limited.before;
            share[stroke] = asked > 0 ? (float)fmin(1, fmax(0, given / asked)) : 1;
        }
    }
    for (; stroke < t->stroke_count; stroke++) share[stroke] = 1; /* beyond the last frame */
    tc_player_destroy(limited.player);
    tc_player_destroy(full.player);
    memory_free(levels);
    return status;
}

enum tc_status cracks_held_back(const struct tc_timeline *t, const struct tc_event *events, const struct tc_rig *rig,
                                const struct tc_settings *s, const struct tc_watch *watch, uint32_t **which,
                                size_t *count)
{
    float *share = memory_new(t->stroke_count + 1, sizeof *share);
    uint32_t *list = memory_new(t->stroke_count + 1, sizeof *list);
    enum tc_status status = share && list ? strokes_reached(t, rig, s, watch, share) : TC_ERR_MEMORY;
    *count = 0;
    for (size_t i = 0; status == TC_OK && i < t->stroke_count; i++) {
        const struct tc_stroke *stroke = &t->strokes[i];
        if (!stroke->order && share[i] < REACHED_HELD_BACK && events[stroke->event].kind == TC_CRACK)
            list[(*count)++] = stroke->event;
    }
    memory_free(share);
    if (status != TC_OK) memory_free(list);
    *which = status == TC_OK ? list : NULL;
    return status;
}
