#include "io/sound/sound_out.h"

#include <math.h>
#include <stdatomic.h>
#include <stdlib.h>

#include "io/process/clock.h"
#include "io/sound/sound_card.h"
#include "io/sound/sound_clock.h"
#include "io/sound/sound_pace.h"
#include "words/status.h"

enum { TELLINGS = 256 };     /* from the card's thread, looked at every 20 ms */
/* Ahead of the machine's clock by more than this it is no card. */
#define RUNAWAY_S 1.0
/* Silent for so long it is gone. */
#define GONE_S 3.0

/* What the card says of one buffer. */
struct telling {
    int64_t card;            /* samples that it had taken before */
    int64_t show;            /* and those of the show among them; -1: not begun */
    int64_t given;           /* of the show in this one */
    double piece_s;          /* how long it is */
    double at_s, told_s;     /* when its first one is heard, and when it was told */
};

struct sound_out {
    bool silent;             /* no file, no card */
    struct sound_feed *feed;
    struct sound_card *card;
    double rate;             /* of the card */
    atomic_bool playing;
    int64_t card_taken;                /* the card's thread's */
    struct telling told[TELLINGS];
    atomic_ullong told_count;
    atomic_llong gaps;
    unsigned long long looked;         /* the show's thread's, from here on */
    struct sound_clock clock;
    struct sound_pace pace;
    int64_t apart, next_apart, next_from; /* card less show, and from where another holds */
    int64_t given;                     /* of the show, to the card */
    bool heard_any;
    double told_s, moved_s, delay_s, opened_s, started_s;
    bool started;
    bool gone;                         /* the card is lost, and its library with it */
};

/* On the card's own thread: no waiting, no memory. */
static void fill(void *user, float *to, size_t frames, double heard_s)
{
    struct sound_out *o = user;
    struct sound_taken got = { .at = -1 };
    if (o->playing) got = sound_feed_take(o->feed, to, frames);
    else for (size_t i = 0; i < frames * (size_t)sound_card_channels(o->card); i++) to[i] = 0;
    if (got.dry) o->gaps++;
    unsigned long long count = o->told_count;
    o->told[count % TELLINGS] = (struct telling){ o->card_taken, got.at, got.frames, (double)frames / o->rate, heard_s,
                                                  clock_now_s() };
    o->told_count = count + 1;
    o->card_taken += (int64_t)frames;
}

static enum tc_status open_sound(struct sound_out *o, const struct sound_plan *plan, const char *card,
                                 struct tc_problem *why)
{
    enum tc_status status = sound_feed_open(&o->feed, plan, why);
    if (status == TC_OK) status = sound_card_open(&o->card, card, sound_feed_file_rate(o->feed), fill, o, why);
    if (status != TC_OK) return status;
    o->rate = sound_card_rate(o->card);
    sound_clock_begin(&o->clock, o->rate);
    status = sound_feed_start(o->feed, sound_card_channels(o->card), o->rate, why);
    return status == TC_OK ? sound_card_start(o->card, why) : status;
}

enum tc_status sound_out_open(struct sound_out **out, const struct sound_plan *plan, const char *card,
                              struct tc_problem *why)
{
    *out = NULL;
    struct sound_out *o = calloc(1, sizeof *o);
    if (!o) return problem_say(why, TC_ERR_MEMORY);
    o->silent = !plan->path;
    o->opened_s = clock_now_s();
    enum tc_status status = o->silent ? TC_OK : open_sound(o, plan, card, why);
    if (status == TC_OK) *out = o;
    else sound_out_close(o);
    return status;
}

void sound_out_close(struct sound_out *o)
{
    /* its library may wait for ever for a card that is gone, and its thread may still come by */
    if (!o || o->gone) return;
    sound_card_close(o->card);
    sound_feed_close(o->feed);
    free(o);
}

/* ---- The show ---- */

bool sound_out_ready(const struct sound_out *o)
{
    return o->silent || sound_feed_ready(o->feed);
}

void sound_out_start(struct sound_out *o)
{
    o->started = true;
    o->started_s = clock_now_s();
    o->playing = true;
}

void sound_out_rewind(struct sound_out *o)
{
    o->started = false;
    o->heard_any = false;
    o->playing = false;
    if (!o->silent) sound_feed_rewind(o->feed);
}

/* Takes over what the card has told since. */
static void listen_to_card(struct sound_out *o)
{
    unsigned long long count = o->told_count;
    if (count - o->looked > TELLINGS / 2) o->looked = count - TELLINGS / 2;
    for (; o->looked < count; o->looked++) {
        struct telling t = o->told[o->looked % TELLINGS];
        o->told_s = t.told_s;
        o->delay_s = t.at_s - t.told_s;
        sound_clock_tell(&o->clock, t.card, t.at_s);
        sound_pace_tell(&o->pace, t.told_s, t.piece_s);
        if (t.show < 0 || !o->started) continue;
        if (t.given) o->moved_s = t.told_s;
        o->given = t.show + t.given;
        int64_t apart = t.card - t.show;
        if (o->heard_any && apart == o->next_apart) continue;
        if (!o->heard_any) o->apart = apart;
        o->heard_any = true;
        o->next_apart = apart;
        o->next_from = t.card;
    }
}

struct sound_heard sound_out_heard(struct sound_out *o, double now_s)
{
    if (o->silent) return (struct sound_heard){ o->started ? now_s - o->started_s : -1, HUGE_VAL };
    listen_to_card(o);
    if (!o->heard_any) return (struct sound_heard){ -1, HUGE_VAL };
    double card = sound_clock_frame(&o->clock, now_s);
    if (card >= (double)o->next_from) o->apart = o->next_apart;
    double show = card - (double)o->apart;
    if (show > (double)o->given) show = (double)o->given; /* a card that stands still is no clock */
    return (struct sound_heard){ show / o->rate, o->moved_s + sound_pace_s(&o->pace) };
}

bool sound_out_lost(struct sound_out *o, double now_s, struct tc_problem *why)
{
    if (o->silent) return false;
    listen_to_card(o);
    if (!sound_card_runs(o->card)) {
        problem_set(why, TC_ERR_WRITE, "the sound card is gone");
        return o->gone = true;
    }
    if (now_s - (o->clock.told ? o->told_s : o->opened_s) > GONE_S) {
        problem_set(why, TC_ERR_WRITE, "the sound card has taken no sound for %.0f s", GONE_S);
        return o->gone = true;
    }
    if (o->clock.told && (double)o->clock.frame / o->rate > now_s - o->opened_s + RUNAWAY_S) {
        problem_set(why, TC_ERR_WRITE, "the sound card takes sound faster than it can be heard: it keeps no time, "
                                       "and light can't follow it");
        return true;
    }
    return false;
}

double sound_out_delay_s(const struct sound_out *o)
{
    return o->delay_s;
}

int64_t sound_out_gaps(const struct sound_out *o)
{
    return o->gaps;
}

bool sound_out_recording_lost(const struct sound_out *o)
{
    return !o->silent && sound_feed_lost(o->feed);
}
