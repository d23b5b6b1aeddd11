/* How flashes are counted here.
 *
 * Rule: WCAG 2.2, success criterion 2.3.1 and its glossary. A flash is a pair
 * of opposing changes of light, each of 10 % or more of the greatest light
 * (here: all channels on); each of the two is called a transition. A change is
 * measured from peak to valley, however long it takes and over however many
 * frames. No more than three flashes, that is six transitions, may lie within
 * any second; the second is half-open, so that two transitions exactly 1 s
 * apart are not in the same one.
 *
 *     light      peak
 *       |         /\              up: stamped where the rise from the valley
 *       |   up-> /  \ <-down          first reaches 10 %; further rise only
 *       |       /    \                moves the peak
 *       |______/      \____
 *           valley     valley
 *
 * Deliberately stricter than the screen rules, because this is light in the
 * eyes of a dark-adapted audience:
 *   - no exemption where the darker state is above 0.80;
 *   - no exemption for small or slow changes of 10 % and more;
 *   - not only the summed light is counted, but also branches, floods and every
 *     named group for itself (each against its own all-on light), and all these
 *     together: whenever one of them makes a transition against the direction
 *     of the last, that counts for "any group". So groups that flash together
 *     count once and groups that flash in turn add up, as HSE and NFPA 72
 *     guidance for several lights in one field of view have it. Within one
 *     frame the order is taken that gives the highest count.
 *
 * Known differences: a counter that looks at single frame steps passes
 * staircases whose steps are below 10 % each but whose sum is not (families l03
 * and y03 of the TRACE RERC test patterns); this one counts them. One that
 * grants the 0.80 exemption passes flicker at high light; this one does not.
 *
 * Extended flashing (IRIS, from the remark on 5 s in ITU-R BT.1702): 4 or more
 * transitions a second for 4 s within any 5 s. It is a caution, not a limit. */
#include "light/flash_count.h"

#include <string.h>

#include "rig/dimmer.h"
#include "words/memory.h"
#include "words/text.h"
#include "words/units.h"

/* A change of exactly 10 % counts, whatever the last bit of a sum says. */
#define THRESHOLD (FLASH_THRESHOLD_PERCENT / 100.0 - 1e-9)

#define SECOND_US 1000000LL
#define EXTENDED_WITHIN_US (5 * SECOND_US)
#define EXTENDED_LENGTH_US (4 * SECOND_US)
enum { EXTENDED_TRANSITIONS = 4 };

/* ---- One series ---- */

static void stamp(struct flash_series *s, int direction, int64_t at_us)
{
    s->stamps[s->count % FLASH_WINDOW_MOST] = at_us;
    s->count++;
    s->direction = direction;
}

/* Before the first transition a rise and a fall are both possible. */
static int first_transition(const struct flash_series *s, double light)
{
    if (light - s->extreme >= THRESHOLD) return +1;
    if (s->highest - light >= THRESHOLD) return -1;
    return 0;
}

int flash_series_step(struct flash_series *s, double light, int64_t at_us)
{
    if (!s->started) {
        s->started = true;
        s->extreme = s->highest = light;
        return 0;
    }
    int turn = 0;
    if (s->direction > 0) turn = s->extreme - light >= THRESHOLD ? -1 : 0;
    else if (s->direction < 0) turn = light - s->extreme >= THRESHOLD ? +1 : 0;
    else turn = first_transition(s, light);

    if (turn) {
        s->extreme = light;
        stamp(s, turn, at_us);
        return turn;
    }
    if (s->direction > 0) s->extreme = light > s->extreme ? light : s->extreme;
    else s->extreme = light < s->extreme ? light : s->extreme;
    if (light > s->highest) s->highest = light;
    return 0;
}

int flash_series_recent(const struct flash_series *s, int64_t at_us)
{
    int n = 0;
    uint64_t held = s->count < FLASH_WINDOW_MOST ? s->count : FLASH_WINDOW_MOST;
    while ((uint64_t)n < held
           && at_us - s->stamps[(s->count - 1 - (uint64_t)n) % FLASH_WINDOW_MOST] < SECOND_US)
        n++;
    return n;
}

/* ---- A whole timeline ---- */

enum { ALL, BRANCHES, FLOODS, FIRST_GROUP };

/* A stretch of time with many transitions, half-open. */
struct stretch {
    int64_t from_us, to_us;
};

/* Within 5 s there is a new stretch at most for every transition that brings
 * the count to four, which is once in four transitions. */
enum { STRETCH_MOST = 64 };

struct flash_counter {
    const struct tc_rig *rig;
    double full;
    int64_t limit;
    size_t series_count;          /* all, branches, floods, groups; then "any group" */
    struct flash_series *series;
    double *all_on;               /* weight of each series with everything on */
    double *sum;
    double *weight;               /* of each channel */
    double *light;                /* of each channel, at its last level */
    uint16_t *last;
    int64_t *changed_us;          /* when each channel last changed */
    bool *at_peak;                /* it changed within the peak's second */
    bool started;
    int64_t at_us, step_us;       /* the latest frame, and its distance from the one before */
    int64_t live_until_us;        /* no series has a recent transition from here on */
    int peak;
    int64_t peak_at_us;
    size_t peak_series;
    struct stretch busy[STRETCH_MOST];
    size_t busy_count;
    bool was_busy, was_extended;
    int64_t extended_us;
};

static bool in_series(const struct tc_channel *c, size_t series)
{
    switch (series) {
    case ALL:      return true;
    case BRANCHES: return c->kind == TC_BRANCH;
    case FLOODS:   return c->kind == TC_FLOOD;
    }
    return c->group >= 0 && (size_t)c->group == series - FIRST_GROUP;
}

enum tc_status flash_counter_create(struct flash_counter **out, const struct tc_rig *rig,
                                    uint16_t full, int64_t limit)
{
    *out = NULL;
    struct flash_counter *c = memory_new(1, sizeof *c);
    if (!c) return TC_ERR_MEMORY;
    size_t channels = rig->channel_count + 1; /* one spare: no channels is no special case */
    c->rig = rig;
    c->full = full;
    c->limit = limit;
    c->series_count = FIRST_GROUP + rig->group_count;
    c->series = memory_new(c->series_count + 1, sizeof *c->series);
    c->all_on = memory_new(c->series_count, sizeof *c->all_on);
    c->sum = memory_new(c->series_count, sizeof *c->sum);
    c->weight = memory_new(channels, sizeof *c->weight);
    c->light = memory_new(channels, sizeof *c->light);
    c->last = memory_new(channels, sizeof *c->last);
    c->changed_us = memory_new(channels, sizeof *c->changed_us);
    c->at_peak = memory_new(channels, sizeof *c->at_peak);
    if (!c->series || !c->all_on || !c->sum || !c->weight || !c->light || !c->last
        || !c->changed_us || !c->at_peak)
        goto fail;

    for (size_t i = 0; i < rig->channel_count; i++) {
        c->weight[i] = rig_weight(rig, i);
        c->changed_us[i] = INT64_MIN / 2;
        for (size_t s = 0; s < c->series_count; s++)
            if (in_series(&rig->channels[i], s)) c->all_on[s] += c->weight[i];
    }
    /* Dark before the start: the first light is a transition. */
    for (size_t s = 0; s <= c->series_count; s++) {
        c->series[s].started = true;
        c->series[s].direction = -1;
    }
    c->live_until_us = INT64_MIN;
    *out = c;
    return TC_OK;
fail:
    flash_counter_destroy(c);
    return TC_ERR_MEMORY;
}

/* Adds up the light of all channels. */
static void add_up(struct flash_counter *c)
{
    memset(c->sum, 0, c->series_count * sizeof *c->sum);
    for (size_t i = 0; i < c->rig->channel_count; i++) {
        const struct tc_channel *channel = &c->rig->channels[i];
        double light = c->weight[i] * c->light[i];
        c->sum[ALL] += light;
        c->sum[channel->kind == TC_FLOOD ? FLOODS : BRANCHES] += light;
        if (channel->group >= 0) c->sum[FIRST_GROUP + (size_t)channel->group] += light;
    }
}

static void note_peak(struct flash_counter *c, size_t series)
{
    int n = flash_series_recent(&c->series[series], c->at_us);
    if (n <= c->peak) return;
    c->peak = n;
    c->peak_at_us = c->at_us;
    c->peak_series = series;
    for (size_t i = 0; i < c->rig->channel_count; i++)
        c->at_peak[i] = c->at_us - c->changed_us[i] < SECOND_US;
}

/* Counts the transitions of this frame, and those of "any group": the order
 * that turns most often takes up and down by turns as long as there are both. */
static void count(struct flash_counter *c)
{
    int ups = 0, downs = 0;
    bool any = false;
    for (size_t s = 0; s < c->series_count; s++) {
        if (!(c->all_on[s] > 0)) continue;
        int turn = flash_series_step(&c->series[s], c->sum[s] / c->all_on[s], c->at_us);
        if (!turn) continue;
        any = true;
        if (s == ALL) continue;
        if (turn > 0) ups++;
        else downs++;
    }
    struct flash_series *united = &c->series[c->series_count];
    for (;;) {
        if (united->direction < 0 && ups) {
            stamp(united, +1, c->at_us);
            ups--;
        } else if (united->direction > 0 && downs) {
            stamp(united, -1, c->at_us);
            downs--;
        } else {
            break;
        }
    }
    if (!any) return;
    c->live_until_us = c->at_us + SECOND_US;
    for (size_t s = 0; s <= c->series_count; s++) note_peak(c, s);
}

static int most_recent(const struct flash_counter *c)
{
    int most = 0;
    if (c->at_us >= c->live_until_us) return 0;
    for (size_t s = 0; s <= c->series_count; s++) {
        int n = flash_series_recent(&c->series[s], c->at_us);
        if (n > most) most = n;
    }
    return most;
}

/* ---- Extended flashing ---- */

/* Forgets stretches that lie wholly before the last 5 s. */
static void forget(struct flash_counter *c, int64_t before_us)
{
    size_t gone = 0;
    while (gone < c->busy_count && c->busy[gone].to_us <= before_us) gone++;
    if (gone == 0 && c->busy_count == STRETCH_MOST) gone = 1;
    c->busy_count -= gone;
    memmove(c->busy, c->busy + gone, c->busy_count * sizeof *c->busy);
}

/* The time from the last frame to this one belongs to the last one's state. */
static void extend(struct flash_counter *c, int64_t at_us)
{
    if (c->was_extended) c->extended_us += at_us - c->at_us;
    if (!c->was_busy) return;
    if (c->busy_count && c->busy[c->busy_count - 1].to_us == c->at_us) {
        c->busy[c->busy_count - 1].to_us = at_us;
        return;
    }
    if (c->busy_count == STRETCH_MOST) forget(c, at_us - EXTENDED_WITHIN_US);
    c->busy[c->busy_count++] = (struct stretch){ c->at_us, at_us };
}

/* The frame itself is taken to last as long as the one before. */
static bool is_extended(struct flash_counter *c)
{
    int64_t from = c->at_us + c->step_us - EXTENDED_WITHIN_US, sum = c->step_us;
    forget(c, from);
    for (size_t i = 0; i < c->busy_count; i++) {
        const struct stretch *b = &c->busy[i];
        sum += b->to_us - (b->from_us > from ? b->from_us : from);
    }
    return sum >= EXTENDED_LENGTH_US;
}

/* ---- Steps and sums ---- */

static void begin(struct flash_counter *c, int64_t at_us)
{
    if (c->started) {
        extend(c, at_us);
        c->step_us = at_us - c->at_us;
    }
    c->started = true;
    c->at_us = at_us;
}

static void finish(struct flash_counter *c, bool changed)
{
    if (changed) {
        add_up(c);
        count(c);
    }
    c->was_busy = most_recent(c) >= EXTENDED_TRANSITIONS;
    c->was_extended = c->was_busy && is_extended(c);
}

static bool set_light(struct flash_counter *c, size_t channel, double light)
{
    if (c->light[channel] >= light && c->light[channel] <= light) return false;
    c->light[channel] = light;
    c->changed_us[channel] = c->at_us;
    return true;
}

void flash_counter_light(struct flash_counter *c, const double *light, int64_t at_us)
{
    bool changed = false;
    begin(c, at_us);
    for (size_t i = 0; i < c->rig->channel_count; i++) changed |= set_light(c, i, light[i]);
    finish(c, changed);
}

void flash_counter_step(struct flash_counter *c, const uint16_t *levels, int64_t at_us)
{
    bool changed = false;
    begin(c, at_us);
    if (memcmp(levels, c->last, c->rig->channel_count * sizeof *levels) != 0)
        for (size_t i = 0; i < c->rig->channel_count; i++) {
            if (levels[i] == c->last[i]) continue;
            c->last[i] = levels[i];
            changed |= set_light(c, i, channel_light(&c->rig->channels[i], levels[i] * 100.0 / c->full));
        }
    finish(c, changed);
}

int flash_counter_recent(const struct flash_counter *c)
{
    return (most_recent(c) + 1) / 2;
}

int flash_counter_peak(const struct flash_counter *c)
{
    return c->peak;
}

bool flash_counter_peak_channel(const struct flash_counter *c, size_t channel)
{
    return c->at_peak[channel];
}

void flash_counter_report(const struct flash_counter *c, struct flash_report *out)
{
    static const char *const names[] = { "all", "branches", "floods" };
    const char *name = c->peak_series == c->series_count ? "any group"
                     : c->peak_series < FIRST_GROUP ? names[c->peak_series]
                     : c->rig->groups[c->peak_series - FIRST_GROUP].name;
    *out = (struct flash_report){
        .limit = c->limit,
        .peak_transitions = c->peak,
        .peak_at_ms = (c->peak_at_us + 500) / 1000,
        .transitions = (int64_t)c->series[ALL].count,
        .extended_ms = (c->extended_us + (c->was_extended ? c->step_us : 0)) / 1000,
    };
    text_plain(out->peak_series, sizeof out->peak_series, name);
}

void flash_counter_destroy(struct flash_counter *c)
{
    if (!c) return;
    memory_free(c->series);
    memory_free(c->all_on);
    memory_free(c->sum);
    memory_free(c->weight);
    memory_free(c->light);
    memory_free(c->last);
    memory_free(c->changed_us);
    memory_free(c->at_peak);
    memory_free(c);
}
