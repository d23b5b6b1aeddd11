#include "rig/electric.h"

#include <stddef.h>

struct gauge {
    int awg;
    double ohms_per_kft; /* NEC chapter 9, table 8: stranded, uncoated, 75 C */
    double cord_amps;    /* NEC table 400.5(A)(1), column B; 0 = we have no figure */
};

static const struct gauge gauges[] = {
    { 18, 7.95, 10 },
    { 16, 4.99, 13 },
    { 14, 3.14, 18 },
    { 12, 1.98, 25 },
    { 10, 1.24, 0 },
};

static const struct gauge *gauge_find(int awg)
{
    for (size_t i = 0; i < sizeof gauges / sizeof *gauges; i++)
        if (gauges[i].awg == awg) return &gauges[i];
    return NULL;
}

double load_amps(double watts, double volts)
{
    return volts > 0 ? watts / volts : 0;
}

double copper_ohms_per_kft(int awg)
{
    const struct gauge *g = gauge_find(awg);
    return g ? g->ohms_per_kft : 0;
}

double cord_rated_amps(int awg)
{
    const struct gauge *g = gauge_find(awg);
    return g ? g->cord_amps : 0;
}

double cord_drop_volts(int awg, double length_ft, double amps)
{
    return 2 * length_ft * amps * copper_ohms_per_kft(awg) / 1000;
}

double cord_length_ft(int awg, double amps, double volts, double percent)
{
    double per_foot = cord_drop_volts(awg, 1, amps);
    return per_foot > 0 ? volts * percent / 100 / per_foot : 0;
}

double half_cycle_ms(double hz)
{
    return hz > 0 ? 500 / hz : 0;
}
