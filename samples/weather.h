/* weather: the sounds that stand in thunder's way: rain, single drops on the
 * microphone's cover, wind, mains hum, hiss. Each has a long-term RMS of 1
 * (measured, where a formula gives it only nearly); the caller scales.
 *
 * One struct weather for each recording; samples come one after the other.
 * The same seed and rate give the same weather. */
#ifndef WEATHER_H
#define WEATHER_H

#include "thunder.h"

enum weather_kind { RAIN, DROPS, WIND, HUM, HISS, WEATHER_KINDS };

struct weather {
    struct dice dice;
    double rate;
    int64_t at;                  /* samples so far */
    double unit[WEATHER_KINDS];  /* scale to RMS 1 */
    double rain[2], wind[2], gust[2];
    double drop, drop_fade, drop_speed, drop_phase;
};

/* Weather at `rate` samples a second. */
struct weather weather_begin(double rate, uint64_t seed);

/* The next sample of every kind. */
void weather_step(struct weather *w, double out[WEATHER_KINDS]);

#endif
