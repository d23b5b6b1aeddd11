/* Conversions between the units of sound, light, electricity and weather.
 * Pure functions; each names where its formula comes from. */
#ifndef TC_UNITS_H
#define TC_UNITS_H

#include <stdint.h>

#include "thundercue.h"

/* Decibels of a power ratio; -200 for zero and below. */
double power_db(double power);

/* A power (full-scale sine = 1) as half decibels over -127.5 dBFS, 0..255. */
uint8_t level_byte(double power);
/* And back to a power; 0 gives 0. */
double level_byte_power(uint8_t byte);

/* Speed of sound in air in m/s: 331.3 sqrt(1 + T/273.15), T in Celsius. */
double sound_speed(double celsius);
/* How many seconds the thunder comes after its flash over `metres`. */
double flash_to_bang_s(double metres, double celsius);

/* Light 0..1 of a command 0..1 and the inverse. Square law: light = command^2.
 * L*: CIE 1976 lightness, L* = 100 command. */
double curve_light(enum tc_curve curve, double command);
double curve_command(enum tc_curve curve, double light);
/* The steepest slope of light over command, both from 0 to 1. */
double curve_steepest(enum tc_curve curve);

/* Light of a channel at a level in percent: 0 below its minimum, then by its
 * curve up to 1 at its maximum. And the level in percent for a light: 0 for
 * no light, else between the two. */
double channel_light(const struct tc_channel *c, double percent);
double channel_percent(const struct tc_channel *c, double light);

/* The number that means 100 percent in a form of levels (enum tc_levels): 1000
 * for tenths of a percent, 255 for 8 bits. */
uint16_t level_full(int64_t levels);

/* Exact by definition: the international foot, inch and pound, the standard
 * acceleration of gravity. */
#define M_PER_FT 0.3048
#define M_PER_IN 0.0254
#define N_PER_KG 9.80665
#define N_PER_LB (0.45359237 * N_PER_KG)

/* Sums that meet a limit exactly are not over it, whatever the last bit says. */
#define SUM_SLACK 1e-9
bool sum_over(double value, double limit);

enum { SECOND_US = 1000000 };

/* Whole milliseconds, the nearest. */
int64_t seconds_ms(double seconds);

/* Packets a second that a full DMX512-A universe of 512 slots carries, which is
 * also the most that a light network takes (ANSI E1.31 keeps to DMX512-A's rate). */
enum { DMX_PACKETS_MOST = 44 };

/* The light frame that contains a moment: floor, never negative. */
int64_t frame_at(int64_t ms, int64_t frame_rate);
/* When a light frame starts, rounded to whole milliseconds. */
int64_t frame_ms(int64_t frame, int64_t frame_rate);
/* The same in microseconds, cut: exactly enough for counting flashes. */
int64_t frame_us(int64_t frame, int64_t frame_rate);

#endif
