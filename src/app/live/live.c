#include "app/live/live.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum tc_status live_begin(struct live *l, const struct track *track, double lap_s, bool loop)
{
    assert(lap_s > 0 || !loop);
    *l = (struct live){ .track = track, .lap_s = lap_s, .loop = loop, .heard_s = -INFINITY, .moved_s = -INFINITY, .doubt_s = -1 };
    l->state = calloc(track->slots, 1);
    l->slots = l->black = calloc(track->slots, 1);
    return l->state && l->black ? TC_OK : TC_ERR_MEMORY;
}

/* When the next frame of this lap is due in the show; the lap's end if none is
 * left that the seam has room for. */
static double due_s(const struct live *l)
{
    double start = (double)l->lap * l->lap_s, end = (double)(l->lap + 1) * l->lap_s;
    if (l->next >= l->track->frames) return end;
    double due = start + (double)l->track->at_us[l->next] / 1e6;
    return due > end || (l->loop && due > end - LIVE_APART_S) ? end : due;
}

/* The lap is over: black, and on to the next. */
static void end_lap(struct live *l)
{
    memset(l->state, 0, l->track->slots);
    l->next = 0;
    l->lap++;
    l->ended = !l->loop;
}

static bool is_stalled(struct live *l, double now_s, double show_s, double until_s)
{
    if (show_s > l->heard_s || l->moved_s < 0) {
        l->heard_s = show_s;
        l->moved_s = now_s;
    }
    if (now_s < until_s) l->doubt_s = -1;
    else if (l->doubt_s < 0) l->doubt_s = now_s;
    bool stopped = l->doubt_s >= 0 && now_s - l->doubt_s >= LIVE_DOUBT_S;
    return stopped || now_s - l->moved_s > LIVE_STALL_S - LIVE_SPARE_S;
}

/* Laps that were missed as a whole are not played through. */
static void skip_laps(struct live *l, double show_s)
{
    if (!l->loop || show_s < (double)(l->lap + 2) * l->lap_s) return;
    memset(l->state, 0, l->track->slots);
    l->next = 0;
    l->lap = (int64_t)(show_s / l->lap_s);
}

static void let_go_when_dark(struct live *l)
{
    if (memcmp(l->state, l->black, l->track->slots)) return;
    l->held = false;
    l->slots = l->state;
}

void live_hold(struct live *l)
{
    l->held = true;
    l->slots = l->black;
}

struct live_news live_step(struct live *l, double now_s, double show_s, double until_s)
{
    struct live_news news = { .wait_s = LIVE_STALL_S };
    bool was_stalled = l->stalled;
    l->stalled = is_stalled(l, now_s, show_s, until_s);
    if (l->stalled) {
        news.fresh = !was_stalled;
        live_hold(l);
        return news;
    }
    let_go_when_dark(l);
    skip_laps(l, show_s);
    double due;
    while (!l->ended && (due = due_s(l)) <= show_s) {
        news.fresh = true;
        news.late_s = show_s - due;
        bool over = due >= (double)(l->lap + 1) * l->lap_s;
        if (over) end_lap(l);
        else track_apply(l->track, l->next++, l->state);
    }
    let_go_when_dark(l);
    if (l->ended) return news;
    news.wait_s = fmin(due_s(l) - show_s, l->doubt_s < 0 ? until_s - now_s : LIVE_DOUBT_S);
    if (l->next && !l->held) news.bright = l->track->bright[l->next - 1];
    return news;
}

void live_clear(struct live *l)
{
    free(l->state);
    free(l->black);
    *l = (struct live){ 0 };
}
