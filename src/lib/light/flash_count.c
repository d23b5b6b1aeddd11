/* Where the rule comes from.
 *
 * WCAG 2.2, success criterion 2.3.1 and its glossary: a flash is a pair of
 * opposing changes of light, each of 10 % or more of the greatest light (here:
 * all channels on); each of the two is called a transition. A change is
 * measured from peak to valley, however long it takes and over however many
 * frames. No more than three flashes, that is six transitions, may lie within
 * any second.
 *
 *     light      peak
 *       |         /\              up: counted where the rise from the valley
 *       |   up-> /  \ <-down          first reaches 10 %; further rise only
 *       |       /    \                moves the peak
 *       |______/      \____
 *           valley     valley
 *
 * Every second is counted afresh. A count that runs on from before misses the
 * first rise of a second that begins amid a rise, since the rise has been
 * counted earlier. Counting this way finds the longest row of opposing changes
 * that a second holds: taking each as soon as it is complete leaves most room
 * for the next. So a look that began earlier never finds fewer, until it ends.
 *
 * Looks are kept side by side, one for each moment at which one may begin, for
 * a second. One that has come to see the same as the next younger one is
 * dropped: it would end earlier and find nothing else.
 *
 * Deliberately stricter than the screen rules, because this is light in the
 * eyes of a dark-adapted audience:
 *   - no exemption where the darker state is above 0.80;
 *   - no exemption for small or slow changes of 10 % and more;
 *   - not only the summed light is counted, but also branches, floods and every
 *     named group for itself (each against its own all-on light), and all these
 *     together as "any group". So groups that flash together count once and
 *     groups that flash in turn add up, as HSE and NFPA 72 guidance for several
 *     lights in one field of view have it.
 *
 * Known differences: a counter that looks at single frame steps passes
 * staircases whose steps are below 10 % each but whose sum is not (families l03
 * and y03 of the TRACE RERC test patterns); this one counts them. One that
 * grants the 0.80 exemption passes flicker at high light; this one does not. */
#include "light/flash_count.h"

#include <string.h>

#include "light/extended_flash.h"
#include "rig/dimmer.h"
#include "words/flash_rule.h"
#include "words/memory.h"
#include "words/text.h"
#include "words/units.h"

/* ---- One look at one series ---- */

struct flash_look flash_look_begin(double light)
{
    return (struct flash_look){ .low = light, .high = light };
}

int flash_look_step(struct flash_look *l, double light)
{
    int turn = l->heading >= 0 && l->high - light >= FLASH_TRANSITION ? -1
             : l->heading <= 0 && light - l->low >= FLASH_TRANSITION ? +1 : 0;
    if (turn) {
        *l = (struct flash_look){ light, light, turn, l->count + 1 };
        return turn;
    }
    if (light < l->low) l->low = light;
    if (light > l->high) l->high = light;
    return 0;
}

/* True if both will see the same from now on, and have counted the same. */
static bool looks_alike(const struct flash_look *a, const struct flash_look *b)
{
    if (a->heading != b->heading || a->count != b->count) return false;
    bool low = !(a->low < b->low) && !(b->low < a->low), high = !(a->high < b->high) && !(b->high < a->high);
    return (low || a->heading > 0) && (high || a->heading < 0);
}

/* ---- A whole timeline ---- */

enum { ALL, BRANCHES, FLOODS, FIRST_GROUP };

/* Somebody who began to look. */
struct observer {
    int64_t began_us;             /* the frame after the moment at which the look began */
    int64_t since_us;             /* the last such frame that this look stands for */
    int most;                     /* transitions of the series that has most */
};

/* Looks begin at least this far apart. Where frames come closer than that, the
 * look before stands for those left out, and lasts that much longer. */
enum { LOOKS_APART_US = 1000, OBSERVERS_MOST = 1002 };

struct flash_counter {
    const struct tc_rig *rig;
    double full;
    int64_t limit;
    size_t series_count;          /* all, branches, floods, groups; then "any group" */
    struct flash_look *looks;     /* [observer * (series_count + 1) + series]; the last: any group */
    struct observer observers[OBSERVERS_MOST]; /* the oldest first */
    size_t observer_count;
    struct flash_look steady;     /* the summed light, since the beginning */
    double *all_on;               /* weight of each series with everything on */
    double *sum;
    double *weight;               /* of each channel */
    double *light;                /* of each channel, at its last level */
    uint16_t *last;
    int64_t *changed_us;          /* when each channel last changed */
    bool *at_peak;                /* it changed within the peak's second */
    bool started;
    int64_t at_us, step_us;       /* the latest frame, and its distance from the one before */
    int peak;
    int64_t peak_at_us;
    size_t peak_series;
    struct extended_flash extended;
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
    c->looks = memory_new((c->series_count + 1) * OBSERVERS_MOST, sizeof *c->looks);
    c->all_on = memory_new(c->series_count, sizeof *c->all_on);
    c->sum = memory_new(c->series_count, sizeof *c->sum);
    c->weight = memory_new(channels, sizeof *c->weight);
    c->light = memory_new(channels, sizeof *c->light);
    c->last = memory_new(channels, sizeof *c->last);
    c->changed_us = memory_new(channels, sizeof *c->changed_us);
    c->at_peak = memory_new(channels, sizeof *c->at_peak);
    if (!c->looks || !c->all_on || !c->sum || !c->weight || !c->light || !c->last
        || !c->changed_us || !c->at_peak)
        goto fail;

    for (size_t i = 0; i < rig->channel_count; i++) {
        c->weight[i] = rig_weight(rig, i);
        c->changed_us[i] = INT64_MIN / 2;
        for (size_t s = 0; s < c->series_count; s++)
            if (in_series(&rig->channels[i], s)) c->all_on[s] += c->weight[i];
    }
    *out = c;
    return TC_OK;
fail:
    flash_counter_destroy(c);
    return TC_ERR_MEMORY;
}

/* Adds up the light of all channels, in shares of the all-on light. */
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
    for (size_t s = 0; s < c->series_count; s++) c->sum[s] = c->all_on[s] > 0 ? c->sum[s] / c->all_on[s] : 0;
}

static struct flash_look *looks_of(const struct flash_counter *c, size_t observer)
{
    return c->looks + observer * (c->series_count + 1);
}

/* ---- Observers ---- */

static void drop(struct flash_counter *c, size_t first, size_t count)
{
    if (!count) return;
    size_t rest = c->observer_count - first - count;
    memmove(c->observers + first, c->observers + first + count, rest * sizeof *c->observers);
    memmove(looks_of(c, first), looks_of(c, first + count), rest * (c->series_count + 1) * sizeof *c->looks);
    c->observer_count -= count;
}

static void drop_ended(struct flash_counter *c)
{
    size_t ended = 0;
    while (ended < c->observer_count && c->at_us - c->observers[ended].since_us >= SECOND_US) ended++;
    drop(c, 0, ended);
}

/* Somebody begins to look just before this frame, at the light of the last. */
static void begin_look(struct flash_counter *c)
{
    size_t n = c->observer_count;
    bool alike = false;
    if (n && (c->at_us - c->observers[n - 1].began_us < LOOKS_APART_US || n == OBSERVERS_MOST)) {
        c->observers[n - 1].since_us = c->at_us;
        return;
    }
    struct flash_look *looks = looks_of(c, n);
    for (size_t s = 0; s < c->series_count; s++) looks[s] = flash_look_begin(c->sum[s]);
    looks[c->series_count] = flash_look_begin(0);
    if (n) {
        alike = true;
        for (size_t s = 0; alike && s <= c->series_count; s++) alike = looks_alike(looks_of(c, n - 1) + s, looks + s);
    }
    if (alike) n--; /* the one before sees the same, and may as well begin now */
    else c->observer_count++;
    c->observers[n] = (struct observer){ .began_us = c->at_us, .since_us = c->at_us };
}

/* The transitions of one observer in this frame, and those of "any group": the
 * order that turns most often takes up and down by turns as long as there are
 * both. */
static void look(struct flash_counter *c, size_t observer)
{
    struct flash_look *looks = looks_of(c, observer), *united = &looks[c->series_count];
    int ups = 0, downs = 0, most = 0;
    for (size_t s = 0; s < c->series_count; s++) {
        int turn = flash_look_step(&looks[s], c->sum[s]);
        if (looks[s].count > most) most = looks[s].count;
        if (s == ALL || !turn) continue;
        if (turn > 0) ups++;
        else downs++;
    }
    if (!united->heading && (ups || downs)) united->heading = ups > downs ? -1 : ups < downs ? +1 : -1;
    while ((united->heading < 0 && ups) || (united->heading > 0 && downs)) {
        if (united->heading < 0) ups--;
        else downs--;
        united->heading = -united->heading;
        united->count++;
    }
    c->observers[observer].most = united->count > most ? united->count : most;
}

static void note_peak(struct flash_counter *c, size_t observer)
{
    const struct flash_look *looks = looks_of(c, observer);
    c->peak = c->observers[observer].most;
    c->peak_at_us = c->at_us;
    c->peak_series = 0;
    while (looks[c->peak_series].count < c->peak) c->peak_series++;
    for (size_t i = 0; i < c->rig->channel_count; i++)
        c->at_peak[i] = c->at_us - c->changed_us[i] < SECOND_US;
}

static bool all_alike(const struct flash_counter *c, size_t observer)
{
    const struct flash_look *a = looks_of(c, observer), *b = looks_of(c, observer + 1);
    for (size_t s = 0; s <= c->series_count; s++)
        if (!looks_alike(&a[s], &b[s])) return false;
    return true;
}

/* Everybody looks at this frame's light. */
static void count(struct flash_counter *c)
{
    flash_look_step(&c->steady, c->sum[ALL]);
    for (size_t o = 0; o < c->observer_count; o++) {
        look(c, o);
        if (c->observers[o].most > c->peak) note_peak(c, o);
    }
    for (size_t o = c->observer_count; o-- > 0;)
        if (o + 1 < c->observer_count && all_alike(c, o)) drop(c, o, 1);
}

static int most_recent(const struct flash_counter *c)
{
    int most = 0;
    for (size_t o = 0; o < c->observer_count; o++)
        if (c->observers[o].most > most) most = c->observers[o].most;
    return most;
}

/* ---- Steps and sums ---- */

static void begin(struct flash_counter *c, int64_t at_us)
{
    if (c->started) {
        extended_flash_pass(&c->extended, c->at_us, at_us);
        c->step_us = at_us - c->at_us;
    }
    c->started = true;
    c->at_us = at_us;
    drop_ended(c);
    begin_look(c);
}

static void finish(struct flash_counter *c, bool changed)
{
    if (changed) {
        add_up(c);
        count(c);
    }
    extended_flash_judge(&c->extended, most_recent(c), c->at_us, c->step_us);
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
        .transitions = (int64_t)c->steady.count,
        .extended_ms = extended_flash_us(&c->extended, c->step_us) / 1000,
    };
    text_plain(out->peak_series, sizeof out->peak_series, name);
}

bool flash_report_too_fast(const struct flash_report *r)
{
    return r->limit && r->peak_transitions > 2 * r->limit;
}

void flash_counter_destroy(struct flash_counter *c)
{
    if (!c) return;
    memory_free(c->looks);
    memory_free(c->all_on);
    memory_free(c->sum);
    memory_free(c->weight);
    memory_free(c->light);
    memory_free(c->last);
    memory_free(c->changed_us);
    memory_free(c->at_peak);
    memory_free(c);
}
