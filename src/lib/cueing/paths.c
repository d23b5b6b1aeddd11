#include "cueing/paths.h"

#include <math.h>
#include <string.h>

#include "words/memory.h"

/* ---- Making ---- */

static bool lamps_alike(const struct tc_channel *a, const struct tc_channel *b)
{
    return a->lamp == b->lamp && fabs(a->rise_ms - b->rise_ms) < 0.5
        && fabs(a->fall_ms - b->fall_ms) < 0.5 && fabs(a->lead_ms - b->lead_ms) < 0.5;
}

static bool kind_alike(const struct tc_rig *rig, enum tc_channel_kind kind)
{
    const struct tc_channel *first = NULL;
    for (size_t i = 0; i < rig->channel_count; i++) {
        const struct tc_channel *c = &rig->channels[i];
        if (c->kind != kind) continue;
        if (first && !lamps_alike(first, c)) return false;
        if (!first) first = c;
    }
    return true;
}

static bool is_branch(const struct tc_rig *rig, int channel)
{
    return channel >= 0 && (size_t)channel < rig->channel_count && rig->channels[channel].kind == TC_BRANCH;
}

enum tc_status paths_create(struct paths *out, const struct tc_rig *rig)
{
    size_t n = rig->channel_count;
    *out = (struct paths){ .rig = rig, .first_root = -1 };
    out->tips = memory_new(n + 1, sizeof *out->tips);
    out->shuffled = memory_new(n + 1, sizeof *out->shuffled);
    out->first_child = memory_new(n + 1, sizeof *out->first_child);
    out->next_sibling = memory_new(n + 1, sizeof *out->next_sibling);
    if (!out->tips || !out->shuffled || !out->first_child || !out->next_sibling
        || channel_sets_create(&out->sets, rig) != TC_OK) {
        paths_clear(out);
        return TC_ERR_MEMORY;
    }
    for (size_t i = 0; i < n; i++) out->first_child[i] = out->next_sibling[i] = -1;
    for (size_t i = n; i-- > 0;) { /* backwards, so that children come in rig order */
        const struct tc_channel *c = &rig->channels[i];
        if (c->kind != TC_BRANCH) continue;
        int32_t *first = is_branch(rig, c->parent) ? &out->first_child[c->parent] : &out->first_root;
        out->next_sibling[i] = *first;
        *first = (int32_t)i;
    }
    for (size_t i = 0; i < n; i++)
        if (rig->channels[i].kind != TC_FLOOD && out->first_child[i] < 0) out->tips[out->tip_count++] = (uint16_t)i;
    out->branches_alike = kind_alike(rig, TC_BRANCH);
    out->floods_alike = kind_alike(rig, TC_FLOOD);
    return TC_OK;
}

void paths_clear(struct paths *g)
{
    memory_free(g->tips);
    memory_free(g->shuffled);
    channel_sets_clear(&g->sets);
    memory_free(g->first_child);
    memory_free(g->next_sibling);
    *g = (struct paths){ .first_root = -1 };
}

/* ---- Paths ---- */

static bool taken_lately(const struct paths *g, uint16_t tip, size_t lately)
{
    for (size_t i = 0; i < lately && i < g->last_count; i++)
        if (g->last[i] == tip) return true;
    return false;
}

uint16_t paths_new(struct paths *g, struct randomiser *r)
{
    if (!g->tip_count) return TC_NO_TIP;
    /* A third of the tips rest after their turn, at most PATHS_LAST, at least
     * the last one: so all get their turn, and nothing repeats at once. */
    size_t lately = g->tip_count / 3;
    if (lately > PATHS_LAST) lately = PATHS_LAST;
    if (!lately && g->tip_count > 1) lately = 1;
    /* Shuffled whatever is free, so that the draw doesn't depend on the past. */
    memcpy(g->shuffled, g->tips, g->tip_count * sizeof *g->tips);
    for (size_t i = 0; i < g->tip_count; i++) {
        size_t k = i + random_below(r, (uint32_t)(g->tip_count - i));
        uint16_t tip = g->shuffled[k];
        g->shuffled[k] = g->shuffled[i];
        g->shuffled[i] = tip;
        if (!taken_lately(g, tip, lately)) return tip;
    }
    return g->shuffled[0];
}

void paths_took(struct paths *g, uint16_t tip)
{
    if (tip == TC_NO_TIP) return;
    memmove(g->last + 1, g->last, (PATHS_LAST - 1) * sizeof *g->last);
    g->last[0] = tip;
    if (g->last_count < PATHS_LAST) g->last_count++;
}

static size_t depth_of(const struct paths *g, int channel)
{
    size_t depth = 0;
    for (; is_branch(g->rig, channel) && depth <= g->rig->channel_count; depth++)
        channel = g->rig->channels[channel].parent;
    return depth;
}

/* How many channels two paths have in common. */
static size_t shared(const struct paths *g, int a, int b)
{
    size_t deep_a = depth_of(g, a), deep_b = depth_of(g, b);
    for (; deep_a > deep_b; deep_a--) a = g->rig->channels[a].parent;
    for (; deep_b > deep_a; deep_b--) b = g->rig->channels[b].parent;
    for (; deep_a > 0 && a != b; deep_a--) {
        a = g->rig->channels[a].parent;
        b = g->rig->channels[b].parent;
    }
    return deep_a;
}

uint16_t paths_other(struct paths *g, struct randomiser *r, uint16_t tip)
{
    double total = 0;
    for (size_t i = 0; i < g->tip_count; i++)
        if (g->tips[i] != tip) total += 1 + (double)shared(g, g->tips[i], tip);
    double at = total * random_uniform(r);
    uint16_t chosen = tip;
    for (size_t i = 0; i < g->tip_count && at >= 0; i++) {
        if (g->tips[i] == tip) continue;
        chosen = g->tips[i];
        at -= 1 + (double)shared(g, chosen, tip);
    }
    return chosen;
}

/* ---- Forks ---- */

/* Forks that a strong crack lights on average, whatever the rig: a rig of many
 * loose branches doesn't light them all. */
#define FORKS_TYPICAL 4.0
/* And each may go on, at every further joint. */
#define FORK_GOES_ON 0.7

struct forking {
    const struct paths *paths;
    struct randomiser *r;
    uint16_t *forks;
    size_t count, most;
};

/* Lights a fork and part of what grows from it. No recursion: one child goes
 * on, the others stay dark. */
static void fork_grow(struct forking *f, int32_t channel)
{
    while (channel >= 0 && f->count < f->most) {
        f->forks[f->count++] = (uint16_t)channel;
        if (random_uniform(f->r) >= FORK_GOES_ON) return;
        uint32_t children = 0;
        int32_t child = f->paths->first_child[channel];
        for (int32_t i = child; i >= 0; i = f->paths->next_sibling[i]) children++;
        if (!children) return;
        for (uint32_t skip = random_below(f->r, children); skip > 0; skip--) child = f->paths->next_sibling[child];
        channel = child;
    }
}

static size_t siblings(const struct paths *g, int32_t first)
{
    size_t n = 0;
    for (; first >= 0; first = g->next_sibling[first]) n++;
    return n ? n - 1 : 0;
}

static int32_t first_beside(const struct paths *g, int channel)
{
    int parent = g->rig->channels[channel].parent;
    return is_branch(g->rig, parent) ? g->first_child[parent] : g->first_root;
}

size_t paths_forks(const struct paths *g, struct randomiser *r, uint16_t tip, double readiness,
                   uint16_t *forks, size_t most)
{
    if (tip == TC_NO_TIP) return 0;
    struct forking f = { .paths = g, .r = r, .forks = forks, .most = most };
    size_t beside = 0, depth = depth_of(g, tip);
    int at = tip;
    for (size_t i = 0; i < depth; i++, at = g->rig->channels[at].parent) beside += siblings(g, first_beside(g, at));
    if (!beside) return 0;
    double chance = readiness * fmin(1, FORKS_TYPICAL / (double)beside);
    at = tip;
    for (size_t i = 0; i < depth; i++, at = g->rig->channels[at].parent)
        for (int32_t k = first_beside(g, at); k >= 0; k = g->next_sibling[k])
            if (k != at && random_uniform(r) < chance) fork_grow(&f, k);
    return f.count;
}
