/* A sound card (PortAudio): the machine's usual one, or one by its name. It asks
 * for sound on a thread of its own, and says when what it takes will be heard,
 * its own delay included. */
#ifndef TC_SOUND_CARD_H
#define TC_SOUND_CARD_H

#include "words/model.h"

struct sound_card;

/* How much it holds back where the card doesn't know better: enough for a busy
 * machine. */
#define SOUND_CARD_DELAY_S 0.06

/* Fills in `frames` sample frames, the first of which is heard at `heard_s` by
 * clock.h. On the card's own thread: no waiting, no memory. */
typedef void sound_card_fill(void *user, float *to, size_t frames, double heard_s);

/* `name`: as sound_card_list has it (or its number, or a part that only one card
 * has), NULL for the usual one. `rate` is taken if the card takes it.
 * TC_ERR_USAGE for a name that no card has, or several, with what there is;
 * TC_ERR_WRITE without a sound card, or where thundercue was built without
 * PortAudio; TC_ERR_MEMORY. */
enum tc_status sound_card_open(struct sound_card **out, const char *name, double rate, sound_card_fill *fill,
                               void *user,
                               struct tc_problem *why);
int sound_card_channels(const struct sound_card *c);  /* 1 or 2 */
double sound_card_rate(const struct sound_card *c);

/* From now on it asks. TC_ERR_WRITE. */
enum tc_status sound_card_start(struct sound_card *c, struct tc_problem *why);
bool sound_card_runs(const struct sound_card *c);

/* NULL is fine. One that is gone must not be closed: its library may wait for it for ever. */
void sound_card_close(struct sound_card *c);

struct sound_card_info {
    int number;              /* from 1 */
    const char *name, *system; /* the card's, and what of the machine it goes through */
    int channels;
    double rate;             /* its usual one */
    bool usual;
};
/* Tells of every card there is. TC_ERR_WRITE as above; no card is no error. */
enum tc_status sound_card_list(void (*tell)(void *user, const struct sound_card_info *card), void *user,
                               struct tc_problem *why);

#endif
