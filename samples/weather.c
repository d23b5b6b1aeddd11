#include "weather.h"

#include <math.h>

static const double pi = 3.14159265358979323846;

/* One step of a first-order low-pass with the corner at `hz`. */
static double low_pass(double *state, double x, double hz, double rate)
{
    *state += (1.0 - exp(-2.0 * pi * hz / rate)) * (x - *state);
    return *state;
}

static double rain_step(struct weather *w)
{
    const double noise = dice_normal(&w->dice);
    const double high = noise - low_pass(&w->rain[0], noise, 800.0, w->rate);
    return low_pass(&w->rain[1], high, 5000.0, w->rate);
}

/* A drop rings for a few milliseconds; some fifteen fall in a second. */
static double drops_step(struct weather *w)
{
    if (dice_uniform(&w->dice) < 15.0 / w->rate) {
        w->drop = exp2(dice_normal(&w->dice));
        w->drop_fade = exp(-1.0 / (0.002 + 0.003 * dice_uniform(&w->dice)) / w->rate);
        w->drop_speed = 2.0 * pi * (900.0 + 2400.0 * dice_uniform(&w->dice)) / w->rate;
        w->drop_phase = 0.0;
    }
    w->drop *= w->drop_fade;
    w->drop_phase += w->drop_speed;
    return w->drop * sin(w->drop_phase);
}

/* Noise under 120 Hz whose strength comes and goes over seconds. */
static double wind_step(struct weather *w)
{
    const double slow = 1.0 / w->rate;
    w->gust[0] += slow * (-0.5 * w->gust[0]) + sqrt(slow) * dice_normal(&w->dice);
    w->gust[1] += slow * 2.0 * (w->gust[0] - w->gust[1]);
    const double noise = low_pass(&w->wind[0], dice_normal(&w->dice), 60.0, w->rate);
    return low_pass(&w->wind[1], noise, 120.0, w->rate) * exp(0.5 * w->gust[1]);
}

/* Mains at 50 Hz with its first odd and even harmonics. */
static double hum_step(const struct weather *w)
{
    static const double harmonic[] = { 1.0, 0.5, 0.3, 0.1, 0.15 };
    double sum = 0.0;
    for (int k = 0; k < 5; k++) {
        sum += harmonic[k] * sin(2.0 * pi * 50.0 * (k + 1) * (double)w->at / w->rate);
    }
    return sum;
}

static void raw_step(struct weather *w, double out[WEATHER_KINDS])
{
    out[RAIN] = rain_step(w);
    out[DROPS] = drops_step(w);
    out[WIND] = wind_step(w);
    out[HUM] = hum_step(w);
    out[HISS] = dice_normal(&w->dice);
    w->at++;
}

void weather_step(struct weather *w, double out[WEATHER_KINDS])
{
    raw_step(w, out);
    for (int k = 0; k < WEATHER_KINDS; k++) out[k] *= w->unit[k];
}

struct weather weather_begin(double rate, uint64_t seed)
{
    struct weather w = { .dice = dice_for(seed, UINT64_MAX), .rate = rate };
    struct weather ahead = w;
    double power[WEATHER_KINDS] = { 0 };
    const double seconds = 20.0;
    const double count = ceil(seconds * rate);
    for (double n = 0; n < count; n++) {
        double x[WEATHER_KINDS];
        raw_step(&ahead, x);
        for (int k = 0; k < WEATHER_KINDS; k++) power[k] += x[k] * x[k] / count;
    }
    for (int k = 0; k < WEATHER_KINDS; k++) w.unit[k] = 1.0 / sqrt(power[k]);
    return w;
}
