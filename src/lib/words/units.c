#include "words/units.h"

#include <math.h>

double power_db(double power)
{
    return power > 1e-20 ? 10.0 * log10(power) : -200.0;
}

uint8_t level_byte(double power)
{
    double half_db = floor(2.0 * (power_db(power) + 127.5) + 0.5);
    return (uint8_t)(half_db < 0 ? 0 : half_db > 255 ? 255 : half_db);
}

double level_byte_power(uint8_t byte)
{
    return byte ? pow(10.0, (byte / 2.0 - 127.5) / 10.0) : 0.0;
}

double sound_speed(double celsius)
{
    return 331.3 * sqrt(1.0 + celsius / 273.15);
}

double flash_to_bang_s(double metres, double celsius)
{
    return metres / sound_speed(celsius);
}

/* CIE 15: the cube root holds above (6/29)^3, a straight line below. */
#define LSTAR_SLOPE 903.2963
#define LSTAR_KNEE  8.0

double curve_light(enum tc_curve curve, double command)
{
    double lightness = 100.0 * command;
    switch (curve) {
    case TC_CURVE_SQUARE:
        return command * command;
    case TC_CURVE_LSTAR:
        return lightness > LSTAR_KNEE ? pow((lightness + 16.0) / 116.0, 3.0)
                                      : lightness / LSTAR_SLOPE;
    case TC_CURVE_LINEAR:
        break;
    }
    return command;
}

double curve_command(enum tc_curve curve, double light)
{
    switch (curve) {
    case TC_CURVE_SQUARE:
        return sqrt(light);
    case TC_CURVE_LSTAR:
        return light * LSTAR_SLOPE > LSTAR_KNEE ? (116.0 * cbrt(light) - 16.0) / 100.0
                                                : light * LSTAR_SLOPE / 100.0;
    case TC_CURVE_LINEAR:
        break;
    }
    return light;
}

double curve_steepest(enum tc_curve curve)
{
    switch (curve) {
    case TC_CURVE_SQUARE: return 2;
    case TC_CURVE_LSTAR:  return 300.0 / 116.0; /* at the top */
    case TC_CURVE_LINEAR: break;
    }
    return 1;
}

double channel_light(const struct tc_channel *c, double percent)
{
    if (percent <= 0 || percent < c->min_level || c->max_level <= c->min_level) return 0;
    double command = (percent - c->min_level) / (c->max_level - c->min_level);
    return curve_light(c->curve, command < 1 ? command : 1);
}

double channel_percent(const struct tc_channel *c, double light)
{
    if (light <= 0) return 0;
    double command = curve_command(c->curve, light < 1 ? light : 1);
    return c->min_level + command * (c->max_level - c->min_level);
}

uint16_t level_full(int64_t levels)
{
    return levels == TC_LEVELS_PERCENT ? 1000 : 255;
}

bool sum_over(double value, double limit)
{
    return value > limit * (1 + SUM_SLACK);
}

int64_t seconds_ms(double seconds)
{
    return (int64_t)floor(seconds * 1000 + 0.5);
}

int64_t frame_at(int64_t ms, int64_t frame_rate)
{
    return ms > 0 ? ms * frame_rate / 1000 : 0;
}

int64_t frame_ms(int64_t frame, int64_t frame_rate)
{
    return (frame * 1000 + frame_rate / 2) / frame_rate;
}

int64_t frame_us(int64_t frame, int64_t frame_rate)
{
    return frame * SECOND_US / frame_rate;
}
