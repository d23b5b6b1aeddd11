/* thunder: the sound of one bolt of lightning, from its geometry.
 *
 * The channel is a crooked line of short straight segments. When the current
 * passes, every bit of the line sends out an N-wave (a shock, a linear fall to
 * the opposite pressure, a shock back). What is heard is their sum: each
 * arrives after r / c, weakened by 1 / r, and the air takes away the high
 * frequencies with distance. A section that lies across the line of sight
 * arrives all at once: a clap. A section along it is drawn out: a roll.
 *
 * Model: A. A. Few, Power spectrum of thunder, J. Geophys. Res. 74 (1969);
 * H. S. Ribner and D. Roy, Acoustics of thunder, J. Acoust. Soc. Am. 72 (1982).
 * Air: ISO 9613-2, table 2. Statistics of strokes: Zhu et al. 2015.
 *
 * Positions are metres, the listener stands at the origin, z is up. Times are
 * seconds after the first stroke. Pressure is relative: 1 is a metre of
 * channel of 1e5 J/m, heard broadside from 1 m. Pure functions: the same
 * arguments and dice give the same result; nothing is kept between calls. */
#ifndef THUNDER_H
#define THUNDER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* ---- Chance ------------------------------------------------------------- */

/* A small seeded generator (splitmix64: Steele, Lea and Flood, 2014). */
struct dice {
    uint64_t state;
};

/* Dice of their own for part `index` of a whole that has one seed. */
struct dice dice_for(uint64_t seed, uint64_t index);
double dice_uniform(struct dice *d); /* at least 0, less than 1 */
double dice_normal(struct dice *d);  /* mean 0, standard deviation 1 */

/* ---- Sound in air ------------------------------------------------------- */

/* Metres a second at a temperature in degrees Celsius: 331.3 sqrt(1 + t / 273.15). */
double air_sound_speed(double celsius);

/* Loss in dB a kilometre at 20 degrees and 70 % humidity: ISO 9613-2 table 2 at
 * the octaves from 63 Hz to 8 kHz, between and beyond them straight on
 * logarithmic scales. `hz` above 0. */
double air_loss(double hz);

/* ---- The N-wave --------------------------------------------------------- */

/* Frequency at which the power of a channel's N-wave is greatest, in Hz:
 * 0.63 c sqrt(P0 / E), E the energy in joules a metre (Few 1969). */
double nwave_peak_hz(double joules_per_m, double speed);

/* Length T of that N-wave in seconds: its spectrum, the spherical Bessel
 * function j1(pi f T), has its greatest value at f T = 0.6626. */
double nwave_length(double joules_per_m, double speed);

/* Pressure at `t` after the front of an N-wave of length T: 1 falling to -1. */
double nwave(double t, double length);

/* The same heard from a line whose sound arrives spread over `spread` seconds
 * from t = 0 on: the N-wave averaged over that time. */
double nwave_spread(double t, double length, double spread);

/* ---- A bolt ------------------------------------------------------------- */

struct point {
    double x, y, z;
};

/* A straight piece of channel: how its sound is made, and how much of it comes
 * how late (1 and 0 for the first stroke, straight from the channel). */
struct segment {
    struct point from, to;
    double joules_per_m;
    double share;    /* of the pressure; negative turns it over */
    double delay_s;
    int fork;        /* 0 on the trunk, 1 on its forks, 2 on theirs */
};

struct bolt {
    struct segment *segments;
    size_t count, room;
};

/* What a bolt is grown from. */
struct bolt_form {
    double distance_m;   /* of its foot */
    double height_m;     /* of the cloud that it comes from */
    double reach_m;      /* length of the level part inside the cloud */
    double joules_per_m; /* of the first stroke; each fork has a quarter */
};

/* Draws a height, a reach and an energy for a bolt at this distance. */
struct bolt_form bolt_form_draw(double distance_m, struct dice *d);

/* Adds a segment. False, and the bolt as before, when memory is out. */
bool bolt_add(struct bolt *f, const struct segment *s);

/* Grows a tortuous channel with forks and later strokes. False when memory is
 * out. Clear the bolt afterwards in any case. */
bool bolt_grow(struct bolt *f, const struct bolt_form *form, struct dice *d);

/* Adds what comes late: every piece is heard again a few times over the next
 * half second or so, weaker, from ground, trees, hills and rough air. It gives
 * a clap its body and its tail. False when memory is out. */
bool bolt_scatter(struct bolt *f, struct dice *d);

/* When the sound of the bolt is first and last heard, without the N-wave's
 * own length. The bolt must have a segment. */
void bolt_heard(const struct bolt *f, double speed, double *first_s, double *last_s);

/* Adds the bolt's sound to out[0..count), a sample each 1 / rate from
 * `start_s` on, before the air has taken its share. */
void bolt_sound(const struct bolt *f, double speed, double rate, double start_s,
                 double *out, size_t count);

/* Takes away what the air takes: what arrives at time t has travelled t times
 * `speed`. Changes sound[0..count). False when memory is out. */
bool bolt_air(double speed, double rate, double start_s, double *sound, size_t count);

void bolt_clear(struct bolt *f);

#endif
