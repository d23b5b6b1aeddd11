#include "app/live/hookup.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "io/network/light_guard.h"
#include "io/process/clock.h"
#include "io/process/stop.h"
#include "io/process/terminal.h"
#include "rig/dimmer.h"
#include "rig/rig_slots.h"
#include "words/status.h"
#include "words/text.h"

enum { FULL = 255, KEY_BACK = 'b', KEY_QUIT = 'q' };
/* The fade that looks for the lowest level: a percent each half second. */
#define STEP_S 0.5
#define GLANCE_S 0.02

struct hookup {
    const struct hookup_job *job;
    const struct tc_rig *rig;
    struct light_net *net;
    struct terminal *terminal;
    uint8_t *slots;
    size_t slot_count;
    struct tc_problem *why;
};

static void set_level(struct hookup *h, size_t channel, double percent)
{
    uint16_t most = channel_most(&h->rig->channels[channel], FULL), level = (uint16_t)(FULL * percent / 100 + 0.5);
    memset(h->slots, 0, h->slot_count);
    h->slots[rig_slot(h->rig, channel)] = (uint8_t)(level < most ? level : most);
}

/* Sends for a while, or until a key (returned) or a signal. */
static int hold(struct hookup *h, double seconds, enum tc_status *status)
{
    double now = clock_now_s(), begun = now;
    for (;; now = clock_now_s()) {
        light_guard_beat(now);
        light_net_send(h->net, h->slots, now);
        if (light_guard_signal() || stop_asked()) {
            *status = problem_say(h->why, TC_ERR_STOPPED);
            return 0;
        }
        bool keys = h->job->find_lowest || now - begun >= HOOKUP_LEAST_S; /* no flashing by a held key */
        int key = keys ? terminal_key(h->terminal) : 0;
        if (key || (seconds > 0 && now - begun >= seconds)) return key;
        clock_sleep_until(now + GLANCE_S);
    }
}

static void show_line(struct hookup *h, size_t channel, double level)
{
    char line[300], plain[120];
    const struct tc_channel *c = &h->rig->channels[channel];
    snprintf(line, sizeof line, "channel %d %s: %.0f %%   %s", c->number, text_plain(plain, sizeof plain, c->name),
             level,
             h->job->find_lowest ? "any key: it lights, b: back, q: end" : "any key: next, b: back, q: end");
    terminal_line(h->terminal, line);
}

/* Fades one channel up; its lowest level is what it has when a key is pressed. */
static int find_lowest(struct hookup *h, size_t place, enum tc_status *status)
{
    size_t channel = h->job->channels[place];
    int key = 0;
    h->job->lowest[place] = -1; /* tried before, perhaps, and gone back to */
    for (int percent = 1; percent <= 100 && !key && *status == TC_OK; percent++) {
        set_level(h, channel, percent);
        show_line(h, channel, percent);
        key = hold(h, STEP_S, status);
        if (key && key != KEY_BACK && key != KEY_QUIT) h->job->lowest[place] = percent;
    }
    set_level(h, channel, 0);
    if (*status == TC_OK) hold(h, STEP_S, status);
    return key;
}

static int light_one(struct hookup *h, size_t place, enum tc_status *status)
{
    size_t channel = h->job->channels[place];
    set_level(h, channel, h->job->level);
    if (h->job->tell) h->job->tell(h->rig, channel, h->job->level);
    show_line(h, channel, h->job->level);
    return hold(h, h->job->seconds, status);
}

static enum tc_status open_all(struct hookup *h)
{
    const struct tc_network *network = &h->rig->network;
    char name[TC_NAME_SIZE + 32];
    snprintf(name, sizeof name, "thundercue hookup: %s", h->rig->name);
    struct light_wish wish = { .to = h->job->to ? h->job->to : network->to,
                               .universe = network->universe ? network->universe : 1,
                               .universes = rig_universes(h->rig), .priority = network->priority, .name = name,
                               .interface = h->job->interface };
    h->slot_count = wish.universes * UNIVERSE_SLOTS;
    h->slots = calloc(h->slot_count, 1);
    h->terminal = terminal_open(true);
    if (!h->slots || !h->terminal) return problem_say(h->why, TC_ERR_MEMORY);
    if (h->job->find_lowest && !terminal_has_keys(h->terminal))
        return problem_set(h->why, TC_ERR_USAGE,
                           "standard input is no terminal: there is no key to say when the lamp lights");
    enum tc_status status = light_net_open(&h->net, &wish, h->why);
    if (status == TC_OK) status = light_guard_begin(h->net, terminal_rescue, h->why);
    if (status != TC_OK) return status;
    light_net_send(h->net, h->slots, clock_now_s());
    struct light_net_count first = light_net_counts(h->net);
    if (!first.failed) return TC_OK;
    return problem_set(h->why, TC_ERR_WRITE, "the light network can't be reached: %s", strerror(first.reason));
}

enum tc_status hookup_run(const struct hookup_job *job, const struct tc_rig *rig, struct tc_problem *why)
{
    struct hookup h = { .job = job, .rig = rig, .why = why };
    for (size_t place = 0; job->lowest && place < job->count; place++) job->lowest[place] = -1; /* not tried */
    enum tc_status status = open_all(&h);
    for (size_t place = 0; status == TC_OK && place < job->count;) {
        int key = job->find_lowest ? find_lowest(&h, place, &status) : light_one(&h, place, &status);
        if (key == KEY_QUIT) break;
        if (key == KEY_BACK) place -= place > 0;
        else place++;
    }
    if (h.net) light_net_end(h.net);
    light_guard_end();
    light_net_close(h.net);
    terminal_close(h.terminal);
    free(h.slots);
    return status;
}
