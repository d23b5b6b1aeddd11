#include "app/live/track.h"

#include <stdlib.h>
#include <string.h>

#include "light/flash_count.h"
#include "rig/dimmer.h"
#include "rig/rig_slots.h"
#include "words/status.h"
#include "words/units.h"

/* As a light network takes them, with room for times that are rounded to the millisecond. */
enum { APART_US = SECOND_US / DMX_PACKETS_MOST - 1000 };

enum tc_status track_begin(struct track *t, const struct tc_rig *rig)
{
    *t = (struct track){ .rig = rig, .slots = rig_universes(rig) * UNIVERSE_SLOTS };
    t->last = calloc(t->slots, 1);
    t->outputs = calloc(rig->channel_count + 1, sizeof *t->outputs);
    if (!t->last || !t->outputs) return TC_ERR_MEMORY;
    double all = 0;
    for (size_t c = 0; c < rig->channel_count; c++) {
        t->outputs[c] = (struct track_output){ rig_slot(rig, c), rig_weight(rig, c) };
        all += t->outputs[c].share;
    }
    for (size_t c = 0; all > 0 && c < rig->channel_count; c++) t->outputs[c].share /= all;
    return TC_OK;
}

/* The list, with room for as many entries; NULL where there is no memory, and
 * the old one stays as it is. */
static void *grow(void *old, size_t *room, size_t need, size_t each)
{
    if (need <= *room) return old;
    size_t more = *room ? 2 * *room : 4096;
    void *bigger = realloc(old, more * each);
    if (bigger) *room = more;
    return bigger;
}

/* Room for one more frame in the three lists that have an entry for each. */
static bool grow_frames(struct track *t)
{
    size_t rooms[3] = { t->frame_room, t->frame_room, t->frame_room };
    int64_t *at_us = grow(t->at_us, &rooms[0], t->frames + 2, sizeof *at_us);
    size_t *first = grow(t->first, &rooms[1], t->frames + 2, sizeof *first);
    uint8_t *bright = grow(t->bright, &rooms[2], t->frames + 2, sizeof *bright);
    if (at_us) t->at_us = at_us;
    if (first) t->first = first;
    if (bright) t->bright = bright;
    if (!at_us || !first || !bright) return false;
    t->frame_room = rooms[0];
    return true;
}

static bool grow_changes(struct track *t)
{
    struct track_change *changes = grow(t->changes, &t->change_room,
                                        (t->frames ? t->first[t->frames] : 0) + t->rig->channel_count, sizeof *changes);
    if (changes) t->changes = changes;
    return changes != NULL;
}

enum tc_status track_add(struct track *t, int64_t at_us, const uint16_t *levels, struct tc_problem *why)
{
    if (t->frames && at_us - t->at_us[t->frames - 1] < APART_US)
        return problem_set(why, TC_ERR_FORM,
                           "light frames %.1f ms apart at %.3f s: a light network takes at most %d a second",
                           (double)(at_us - t->at_us[t->frames - 1]) / 1000, (double)at_us / SECOND_US,
                           DMX_PACKETS_MOST);
    if (!grow_frames(t) || !grow_changes(t))
        return problem_say(why, TC_ERR_MEMORY);
    size_t end = t->frames ? t->first[t->frames] : 0;
    double light = 0;
    t->first[t->frames] = end;
    t->at_us[t->frames] = at_us;
    for (size_t c = 0; c < t->rig->channel_count; c++) {
        size_t slot = t->outputs[c].slot;
        light += t->outputs[c].share * levels[c] / TRACK_FULL;
        if (t->last[slot] == levels[c]) continue;
        t->last[slot] = (uint8_t)levels[c];
        t->changes[end++] = (struct track_change){ (uint16_t)slot, (uint8_t)levels[c] };
    }
    t->bright[t->frames] = (uint8_t)(255 * light + 0.5);
    t->first[++t->frames] = end;
    return TC_OK;
}

void track_apply(const struct track *t, size_t frame, uint8_t *slots)
{
    for (size_t i = t->first[frame]; i < t->first[frame + 1]; i++) slots[t->changes[i].slot] = t->changes[i].level;
}

/* One lap through the counter, from `from_us` on; stops after `until_us`. */
static void count_lap(const struct track *t, struct flash_counter *c, uint8_t *slots, uint16_t *levels,
                      int64_t from_us, int64_t until_us, int64_t lap_us)
{
    memset(slots, 0, t->slots);
    for (size_t f = 0; f < t->frames; f++) {
        if (from_us + t->at_us[f] > until_us || (lap_us && t->at_us[f] >= lap_us)) return;
        track_apply(t, f, slots);
        for (size_t i = 0; i < t->rig->channel_count; i++) levels[i] = slots[t->outputs[i].slot];
        flash_counter_step(c, levels, from_us + t->at_us[f]);
    }
}

enum tc_status track_count(struct track *t, int64_t limit, int64_t lap_us)
{
    struct flash_counter *c = NULL;
    uint8_t *slots = calloc(t->slots, 1);
    uint16_t *levels = calloc(t->rig->channel_count + 1, sizeof *levels);
    enum tc_status status = slots && levels ? flash_counter_create(&c, t->rig, TRACK_FULL, limit) : TC_ERR_MEMORY;
    if (status == TC_OK) {
        count_lap(t, c, slots, levels, 0, INT64_MAX, lap_us);
        for (int64_t from = lap_us; lap_us > 0 && from <= lap_us + SECOND_US; from += lap_us)
            count_lap(t, c, slots, levels, from, lap_us + SECOND_US, lap_us);
        flash_counter_report(c, &t->flash);
    }
    flash_counter_destroy(c);
    free(slots);
    free(levels);
    return status;
}

bool track_flashes_too_fast(const struct track *t)
{
    return flash_report_too_fast(&t->flash);
}

void track_clear(struct track *t)
{
    free(t->at_us);
    free(t->first);
    free(t->bright);
    free(t->changes);
    free(t->last);
    free(t->outputs);
    *t = (struct track){ 0 };
}
