#include "app/live/show.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/live/live.h"
#include "app/live/show_load.h"
#include "io/network/light_guard.h"
#include "io/process/clock.h"
#include "io/process/stop.h"
#include "io/process/terminal.h"
#include "io/process/time_of_day.h"
#include "io/process/trigger.h"
#include "io/sound/sound_out.h"
#include "rig/rig_slots.h"
#include "words/status.h"
#include "words/text.h"

enum { BAR = 20 };
/* Nothing is waited for longer, so that the end is never far. */
#define GLANCE_S LIVE_GLANCE_S
#define STATUS_S 0.1
/* The first of the sound is waited for so long, in steps so short. */
#define SOUND_READY_S 1.0
#define READY_GLANCE_S 0.002

struct show {
    const struct show_job *job;
    const struct tc_rig *rig;        /* whose network it is, and whose slots */
    const struct tc_settings *settings;
    struct show_outcome *out;
    struct tc_problem *why;
    struct show_thing thing;         /* what is played */
    double offset_s;                 /* light after the sound */
    struct light_net *net;
    struct sound_out *player;
    struct terminal *terminal;
    struct trigger *trigger;
    uint8_t *black;
    bool interrupted;                /* the keeper has sent black, since a step took so long */
    double shown_s;
};

static enum tc_status open_all(struct show *s);
static enum tc_status wait_for_start(struct show *s);
static enum tc_status play_once(struct show *s);
static enum tc_status stay_dark(struct show *s, double seconds, const char *doing);
static void close_all(struct show *s);

/* ---- The story ---- */

enum tc_status show_run(const struct show_job *job, const struct tc_rig *rig, const struct tc_settings *settings,
                        struct show_outcome *out, struct tc_problem *why)
{
    *out = (struct show_outcome){ 0 };
    struct show s = { .job = job, .rig = rig, .settings = settings, .out = out, .why = why,
                      .offset_s = (double)job->offset_ms / 1000 };
    enum tc_status status = show_load(&s.thing, job, rig, settings, why);
    out->flash = s.thing.track.flash;
    out->refused = s.thing.refused;
    if (status == TC_OK) status = open_all(&s);
    if (status == TC_OK) status = wait_for_start(&s);
    while (status == TC_OK) {
        status = play_once(&s);
        if (status != TC_OK || !s.trigger) break;
        status = stay_dark(&s, (double)job->lockout_s, "dark for a while");
        if (status == TC_OK) sound_out_rewind(s.player);
        if (status == TC_OK) status = wait_for_start(&s);
    }
    close_all(&s);
    return status;
}

static enum tc_status no_memory(struct show *s)
{
    return problem_say(s->why, TC_ERR_MEMORY);
}

/* ---- Opening and closing ---- */

static enum tc_status open_all(struct show *s)
{
    const struct tc_rig *rig = s->thing.track.rig;
    char name[TC_NAME_SIZE + 20];
    snprintf(name, sizeof name, "thundercue: %s", *rig->name ? rig->name : s->rig->name);
    struct light_wish wish = {
        .to = s->job->to ? s->job->to : s->rig->network.to,
        .universe = s->rig->network.universe ? s->rig->network.universe : 1,
        .universes = s->thing.track.slots / UNIVERSE_SLOTS, .priority = s->rig->network.priority, .name = name,
        .interface = s->job->interface,
    };
    /* the sound waits for light that is later, and light for sound */
    struct sound_plan plan = { .path = s->thing.sound,
                               .before_s = s->thing.before_s + (s->offset_s < 0 ? -s->offset_s : 0),
                               .lap_s = s->thing.lap_s, .loop = s->settings->loop };
    enum tc_status status = TC_OK;
    s->black = calloc(s->thing.track.slots, 1);
    s->terminal = terminal_open(true);
    if (!s->black || !s->terminal) status = no_memory(s);
    if (status == TC_OK) status = light_net_open(&s->net, &wish, s->why);
    if (status == TC_OK) status = light_guard_begin(s->net, terminal_rescue, s->why);
    if (status == TC_OK && s->job->trigger) status = trigger_open(&s->trigger, s->job->trigger, s->terminal, s->why);
    if (status == TC_OK) status = sound_out_open(&s->player, &plan, s->job->sound_device, s->why);
    if (status != TC_OK) return status;
    clock_hurry(false);
    light_net_send(s->net, s->black, clock_now_s());
    struct light_net_count first = light_net_counts(s->net);
    if (first.failed)
        return problem_set(s->why, TC_ERR_WRITE, "the light network can't be reached: %s", strerror(first.reason));
    const struct show_ready ready = {
        .name = s->thing.name, .seconds = s->thing.lap_s, .to = wish.to, .universe = wish.universe,
        .universes = wish.universes,
        .terminal = terminal_shows(s->terminal),
    };
    if (s->job->ready) s->job->ready(s->job->user, &ready);
    return TC_OK;
}

static void close_all(struct show *s)
{
    if (s->net) {
        light_net_end(s->net); /* dark first, all else can wait */
        struct light_net_count counts = light_net_counts(s->net);
        s->out->packets = counts.sent;
        s->out->failed = counts.failed;
    }
    light_guard_end();
    s->out->fell_silent = s->player && sound_out_recording_lost(s->player);
    sound_out_close(s->player);
    light_net_close(s->net);
    trigger_close(s->trigger);
    terminal_close(s->terminal);
    show_thing_clear(&s->thing);
    free(s->black);
}

/* ---- While it runs ---- */

/* What ends a show at any time. */
static enum tc_status look_around(struct show *s, double now)
{
    s->interrupted |= light_guard_beat(now);
    if (light_guard_signal() || stop_asked()) return problem_say(s->why, TC_ERR_STOPPED);
    return sound_out_lost(s->player, now, s->why) ? TC_ERR_WRITE : TC_OK;
}

static enum tc_status stay_dark(struct show *s, double seconds, const char *doing)
{
    enum tc_status status = TC_OK;
    double now = clock_now_s(), until = now + seconds;
    for (; status == TC_OK && now < until; now = clock_now_s()) {
        light_net_send(s->net, s->black, now);
        terminal_line(s->terminal, doing);
        status = look_around(s, now);
        if (status == TC_OK) clock_sleep_until(now + GLANCE_S < until ? now + GLANCE_S : until);
    }
    if (s->trigger) trigger_pulled(s->trigger); /* what was pulled meanwhile does not count */
    return status;
}

/* Black until the trigger is pulled, or until the time of day. A wall clock
 * that is set while we wait (as after a start without a network) counts anew. */
static enum tc_status wait_for_start(struct show *s)
{
    if (!s->trigger && !s->job->at) return TC_OK;
    int day = s->job->at ? time_of_day_read(s->job->at) : 0;
    int64_t due = time_of_day_next(wall_clock_s(), day);
    double begun = clock_now_s() - (double)wall_clock_s();
    enum tc_status status = TC_OK;
    while (status == TC_OK) {
        if (s->trigger && trigger_pulled(s->trigger)) return TC_OK;
        int64_t wall = wall_clock_s();
        if (fabs(clock_now_s() - (double)wall - begun) > 2) {
            begun = clock_now_s() - (double)wall;
            due = time_of_day_next(wall, day);
        }
        if (!s->trigger && wall >= due) return TC_OK;
        double now = clock_now_s();
        light_net_send(s->net, s->black, now);
        terminal_line(s->terminal, s->trigger ? "dark, waiting for the trigger" : "dark, waiting for the time");
        status = look_around(s, now);
        if (status == TC_OK) clock_sleep_until(now + GLANCE_S);
    }
    return status;
}

/* "0:12.3 of 0:33.0  storm.flac  [####      ]  2 late" */
static void show_status(struct show *s, const struct live *l, double now, double show_s, uint8_t bright)
{
    if (!terminal_shows(s->terminal) || now - s->shown_s < STATUS_S) return;
    s->shown_s = now;
    char line[360], name[64], bar[BAR + 1];
    for (int i = 0; i < BAR; i++) bar[i] = i * 255 < bright * BAR ? '#' : ' ';
    bar[BAR] = 0;
    struct light_net_count counts = light_net_counts(s->net);
    double in_lap = show_s - (double)l->lap * s->thing.lap_s;
    int used = snprintf(line, sizeof line, "%d:%04.1f of %d:%04.1f  %s", (int)(fmax(in_lap, 0) / 60),
                        fmod(fmax(in_lap, 0), 60),
                        (int)(s->thing.lap_s / 60), fmod(s->thing.lap_s, 60),
                        text_plain(name, sizeof name, s->thing.name));
    if (l->loop) used += snprintf(line + used, sizeof line - (size_t)used, ", lap %lld", (long long)l->lap + 1);
    snprintf(line + used, sizeof line - (size_t)used, "  [%s]  %llu packets, %llu late%s%s", bar,
             (unsigned long long)counts.sent, (unsigned long long)s->out->late, counts.failed ? ", NOT ALL SENT" : "",
             l->stalled ? "  NO SOUND: DARK" : "");
    terminal_line(s->terminal, line);
}

/* Black until the first of the sound lies ready, which a slow disk delays. */
static enum tc_status await_sound(struct show *s)
{
    enum tc_status status = TC_OK;
    double begun = clock_now_s(), now = begun;
    while (status == TC_OK && !sound_out_ready(s->player) && now - begun < SOUND_READY_S) {
        clock_sleep_until(now + READY_GLANCE_S);
        now = clock_now_s();
        light_net_send(s->net, s->black, now);
        status = look_around(s, now);
    }
    return status;
}

static enum tc_status play_once(struct show *s)
{
    struct live l;
    if (live_begin(&l, &s->thing.track, s->thing.lap_s, s->settings->loop) != TC_OK) return no_memory(s);
    enum tc_status status = await_sound(s);
    if (status == TC_OK) sound_out_start(s->player);
    s->out->shows++;
    s->interrupted = false;
    while (status == TC_OK && !l.ended) {
        double now = clock_now_s();
        struct sound_heard heard = sound_out_heard(s->player, now);
        double show_s = heard.show_s - (s->offset_s > 0 ? s->offset_s : 0); /* light that is later */
        s->interrupted |= light_guard_beat(now);
        if (s->interrupted) live_hold(&l);
        s->interrupted = false;
        struct live_news news = live_step(&l, now, show_s, heard.until_s);
        if (news.fresh || now >= light_net_due_s(s->net)) light_net_send(s->net, l.slots, now);
        if (news.fresh && !l.stalled) {
            s->out->frames++;
            s->out->late += news.late_s > LATE_S;
            if (news.late_s > s->out->latest_s) s->out->latest_s = news.late_s;
        }
        show_status(s, &l, now, show_s, news.bright);
        status = look_around(s, now);
        if (status == TC_OK) clock_sleep_until(now + (news.wait_s < GLANCE_S ? news.wait_s : GLANCE_S));
    }
    live_clear(&l);
    return status;
}
