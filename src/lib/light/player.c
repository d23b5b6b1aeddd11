/* The third plain step: a timeline handed out light frame by light frame. It
 * joins the stages play and limit. */

#include "light/limit.h"
#include "light/play.h"
#include "light/player.h"
#include "rig/dimmer.h"
#include "rig/rig_check.h"
#include "words/memory.h"
#include "words/settings.h"
#include "words/status.h"

struct tc_player {
    struct play *play;
    struct dimmer *dimmer;
    struct limiter *limiter;
    float *light;
};

enum tc_status tc_player_create(struct tc_player **out, const struct tc_timeline *t,
                                const struct tc_rig *rig, const struct tc_settings *s, struct tc_problem *why)
{
    *out = NULL;
    struct tc_settings settings;
    enum tc_status status = settings_take(&settings, s, why);
    if (status == TC_OK) status = rig_check(rig, why);
    if (status != TC_OK) return status;
    if (t->frame_rate != settings.frame_rate) /* the limit counts in light frames */
        return problem_set(why, TC_ERR_USAGE,
                           "frame_rate %lld: the timeline was made with %lld light frames a second; play it at "
                           "that rate, or cue again", (long long)settings.frame_rate, (long long)t->frame_rate);
    struct tc_player *p = memory_new(1, sizeof *p);
    if (!p) return problem_say(why, TC_ERR_MEMORY);
    p->light = memory_new(rig->channel_count + 1, sizeof *p->light);
    status = p->light ? TC_OK : TC_ERR_MEMORY;
    if (status == TC_OK) status = play_create(&p->play, t, rig);
    if (status == TC_OK) status = dimmer_create(&p->dimmer, rig, (enum tc_levels)settings.levels);
    if (status == TC_OK) status = limiter_create(&p->limiter, p->dimmer, &settings, t->frames);
    if (status == TC_OK) limiter_follow(p->limiter, t);
    if (status != TC_OK) {
        tc_player_destroy(p);
        return problem_say(why, status);
    }
    *out = p;
    return TC_OK;
}

bool tc_player_step(struct tc_player *p, uint16_t *levels)
{
    if (!play_step(p->play, p->light)) return false;
    for (size_t c = 0; c < p->dimmer->channels; c++)
        levels[c] = p->light[c] > 0 ? dimmer_level(p->dimmer, c, p->light[c]) : 0;
    limiter_step(p->limiter, levels);
    return true;
}

size_t player_softened(const struct tc_player *p)
{
    return limiter_softened(p->limiter);
}

double player_light(const struct tc_player *p, const uint16_t *levels)
{
    double sum = 0;
    for (size_t c = 0; c < p->dimmer->channels; c++)
        if (levels[c]) sum += p->dimmer->weight[c] * (double)dimmer_light(p->dimmer, c, levels[c]);
    return sum;
}

void tc_player_destroy(struct tc_player *p)
{
    if (!p) return;
    play_destroy(p->play);
    limiter_destroy(p->limiter);
    dimmer_destroy(p->dimmer);
    memory_free(p->light);
    memory_free(p);
}
