#include "hearing/loud.h"

#include "hearing/bounds.h"
#include "hearing/decibel.h"

/* Lengths in steps of 5 ms. */
enum {
    SMOOTH = 16,        /* mean power to each side */
    FADE_FROM = 2000,   /* a louder moment this far away is forgotten step by step */
};

#define FADE_DB      0.005f  /* with each step beyond FADE_FROM: 1 dB a second */
#define FADE_MOST_DB 15.0f

void loud_start(struct loud *d)
{
    d->smoothed = 0;
    d->most = -200;
}

static void smooth(struct loud *d, const struct levels *l, int64_t step)
{
    int64_t from = step < SMOOTH ? 0 : step - SMOOTH;
    float sum = 0;
    for (int64_t i = from; i <= step + SMOOTH; i++) sum += l->power[levels_slot(i)];
    float db = decibel_of(sum / (float)(step + SMOOTH - from + 1));
    float *block = &d->block[(step / LOUD_LOOK) & (LOUD_BLOCKS - 1)];
    *block = step % LOUD_LOOK ? most(*block, db) : db;
    d->most = most(d->most, db);
}

void loud_take(struct loud *d, const struct levels *l)
{
    while (d->smoothed < l->heard - SMOOTH && d->smoothed < l->end) smooth(d, l, d->smoothed++);
}

/* Only whole blocks count, however far the steps ahead have come. */
float loud_find(const struct loud *d, int64_t step)
{
    int64_t now = step / LOUD_LOOK, from = now - LOUD_AHEAD / LOUD_LOOK, to = now + LOUD_AHEAD / LOUD_LOOK;
    if (from < 0) from = 0;
    if (to > (d->smoothed + LOUD_LOOK - 1) / LOUD_LOOK) to = (d->smoothed + LOUD_LOOK - 1) / LOUD_LOOK;
    float loud = -200;
    for (int64_t i = from; i < to; i++) {
        float faded = FADE_DB * (float)(LOUD_LOOK * (i < now ? now - i : i - now) - FADE_FROM);
        loud = most(loud, d->block[i & (LOUD_BLOCKS - 1)] - least(most(faded, 0), FADE_MOST_DB));
    }
    return loud;
}
