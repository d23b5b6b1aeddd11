#include "hearing/rumbles.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "words/memory.h"
#include "words/units.h"

/* Rumbles. Lengths in values of the track (50 ms), levels in half decibels. */
enum {
    TRACK_EACH = 10,        /* steps in one value of the rumble track: 50 ms */
    TRACK_SMOOTH = 3,       /* mean power to each side: 0.35 s */
    MINUTE = 1200,          /* surroundings, to each side */
    RUMBLE_OVER = 6,        /* over the quiet background ... */
    RUMBLE_CLEAR = 6,       /* ... and at its best this much more */
    RUMBLE_UNDER = 90,      /* not deeper under the loudest moment */
    RUMBLE_TOP = 20,        /* the loudest 10 dB are rumble, whatever the background */
    RUMBLE_LEAST = 35,      /* -110 dBFS */
    RUMBLE_GAP = 12,        /* a gap up to 0.6 s is bridged */
    RUMBLE_SHORTEST = 10,   /* half a second */
};
#define RUMBLE_HIGH_SHARE 1 /* high power may rise by at most this many times the low */

struct rumbles {
    double low_power, high_power;   /* of the track value under way */
    int steps;
    uint8_t *low, *high;            /* tracks of the level below and above 600 Hz */
    size_t count, room;
};

enum tc_status rumbles_create(struct rumbles **out)
{
    struct rumbles *r = memory_new(1, sizeof *r);
    *out = r;
    if (!r) return TC_ERR_MEMORY;
    r->room = 1 << 14;
    r->low = memory_new(r->room, 1);
    r->high = memory_new(r->room, 1);
    if (r->low && r->high) return TC_OK;
    rumbles_destroy(r);
    *out = NULL;
    return TC_ERR_MEMORY;
}

/* ---- The track of rumbles ---- */

static enum tc_status end_track_value(struct rumbles *r)
{
    if (r->count == r->room) {
        uint8_t *low = memory_resize(r->low, 2 * r->room);
        if (low) r->low = low;
        uint8_t *high = memory_resize(r->high, 2 * r->room);
        if (high) r->high = high;
        if (!low || !high) return TC_ERR_MEMORY;
        r->room *= 2;
    }
    r->low[r->count] = level_byte(r->low_power / r->steps);
    r->high[r->count++] = level_byte(r->high_power / r->steps);
    r->low_power = r->high_power = 0;
    r->steps = 0;
    return TC_OK;
}

enum tc_status rumbles_step(struct rumbles *r, const struct hearing *h)
{
    r->low_power += (double)h->low;
    r->high_power += fmax((double)(h->total - h->low), 0);
    return ++r->steps < TRACK_EACH ? TC_OK : end_track_value(r);
}

/* ---- Rumbles ---- */

/* Values of the track within a minute of one another. */
struct minute {
    size_t histogram[256], count;
};

static void minute_change(struct minute *m, uint8_t value, int by)
{
    m->histogram[value] += (size_t)by;
    m->count += (size_t)by;
}

/* The quiet background: 5th percentile. */
static int minute_quiet(const struct minute *m)
{
    size_t seen = 0;
    int value = 0;
    while (value < 255 && (seen += m->histogram[value]) <= m->count / 20) value++;
    return value;
}

static int minute_loudest(const struct minute *m)
{
    int value = 255;
    while (value > 0 && !m->histogram[value]) value--;
    return value;
}

/* Level over 0.35 s of each value of a track. */
static void smooth_track(const uint8_t *track, size_t count, uint8_t *out)
{
    for (size_t i = 0; i < count; i++) {
        size_t from = i < TRACK_SMOOTH ? 0 : i - TRACK_SMOOTH;
        size_t to = i + TRACK_SMOOTH < count ? i + TRACK_SMOOTH : count - 1;
        double power = 0;
        for (size_t k = from; k <= to; k++) power += level_byte_power(track[k]);
        out[i] = level_byte(power / (double)(to - from + 1));
    }
}

/* Sets gate[i] to the level from which a rumble is heard at i. */
static void find_gates(const uint8_t *level, size_t count, uint8_t *gate, uint8_t *quiet)
{
    struct minute m = { 0 };
    for (size_t i = 0; i < count && i < MINUTE; i++) minute_change(&m, level[i], 1);
    for (size_t i = 0; i < count; i++) {
        if (i + MINUTE < count) minute_change(&m, level[i + MINUTE], 1);
        if (i > MINUTE) minute_change(&m, level[i - MINUTE - 1], -1);
        int loudest = minute_loudest(&m), low = minute_quiet(&m), at = low + RUMBLE_OVER;
        if (at < loudest - RUMBLE_UNDER) at = loudest - RUMBLE_UNDER;
        if (at > loudest - RUMBLE_TOP) at = loudest - RUMBLE_TOP;
        gate[i] = (uint8_t)(at < RUMBLE_LEAST ? RUMBLE_LEAST : at);
        quiet[i] = (uint8_t)low;
    }
}

/* The tracks that finding rumbles needs, one after the other; spare is scratch. */
struct rumble_tracks {
    uint8_t *low, *gate, *quiet, *high, *high_quiet, *spare;
};

/* Whether what rises from start to end does so mostly below 600 Hz. */
static bool mostly_low(const struct rumble_tracks *t, size_t start, size_t end)
{
    double low = 0, high = 0;
    for (size_t i = start; i < end; i++) {
        low += level_byte_power(t->low[i]) - level_byte_power(t->quiet[i]);
        high += level_byte_power(t->high[i]) - level_byte_power(t->high_quiet[i]);
    }
    return low * RUMBLE_HIGH_SHARE > high;
}

static enum tc_status add_rumble(struct tc_analysis *out, size_t *room, struct tc_event e)
{
    if (out->event_count == *room) {
        size_t more = *room ? 2 * *room : 16;
        struct tc_event *events = memory_resize(out->events, more * sizeof *events);
        if (!events) return TC_ERR_MEMORY;
        out->events = events;
        *room = more;
    }
    out->events[out->event_count++] = e;
    return TC_OK;
}

static enum tc_status cut_rumbles(const struct rumble_tracks *t, size_t count, int64_t length_ms,
                                  struct tc_analysis *out)
{
    const int64_t each = TRACK_EACH * STEP_MS;
    size_t room = 0;
    int loudest = 0;
    for (size_t i = 0; i < count; i++) loudest = t->low[i] > loudest ? t->low[i] : loudest;
    for (size_t i = 0; i < count;) {
        if (t->low[i] < t->gate[i]) {
            i++;
            continue;
        }
        size_t start = i, end = i, peak = i;
        int over = 0;
        for (; i < count && i - end <= RUMBLE_GAP; i++) {
            if (t->low[i] < t->gate[i]) continue;
            end = i + 1;
            if (t->low[i] - t->gate[i] > over) over = t->low[i] - t->gate[i];
            if (t->low[i] > t->low[peak]) peak = i;
        }
        if (end - start < RUMBLE_SHORTEST || over < RUMBLE_CLEAR || !mostly_low(t, start, end)) continue;
        int64_t end_ms = (int64_t)end * each, peak_ms = (int64_t)peak * each + each / 2;
        if (end_ms > length_ms) end_ms = length_ms;
        enum tc_status status = add_rumble(out, &room, (struct tc_event){
            .kind = TC_RUMBLE,
            .start_ms = (int64_t)start * each,
            .end_ms = end_ms,
            .peak_ms = peak_ms < end_ms ? peak_ms : end_ms,
            .strength = (float)pow(10, (t->low[peak] - loudest) / 40.0),
            .level_dbfs = (float)t->low[peak] / 2 - 127.5f,
        });
        if (status != TC_OK) return status;
    }
    return TC_OK;
}

static enum tc_status find_rumbles(const struct rumbles *r, int64_t length_ms, struct tc_analysis *out)
{
    size_t n = r->count;
    uint8_t *all = memory_new(6, n + 1);
    if (!all) return TC_ERR_MEMORY;
    struct rumble_tracks t = { all, all + n, all + 2 * n, all + 3 * n, all + 4 * n, all + 5 * n };
    smooth_track(r->low, n, t.low);
    find_gates(t.low, n, t.gate, t.quiet);
    smooth_track(r->high, n, t.high);
    find_gates(t.high, n, t.spare, t.high_quiet);
    enum tc_status status = cut_rumbles(&t, n, length_ms, out);
    memory_free(all);
    return status;
}

/* ---- The end ---- */

enum tc_status rumbles_finish(struct rumbles *r, int64_t length_ms, struct tc_analysis *out)
{
    enum tc_status status = r->steps ? end_track_value(r) : TC_OK;
    return status == TC_OK ? find_rumbles(r, length_ms, out) : status;
}

void rumbles_destroy(struct rumbles *r)
{
    if (!r) return;
    memory_free(r->low);
    memory_free(r->high);
    memory_free(r);
}
