/* Sums of light wiring: amperes, what a breaker is loaded with, volts dropped
 * in a cord. Pure functions; each names its source. They cover two-wire
 * circuits of resistive loads at a power factor of 1.
 *
 * None of these figures is advice to go up to it: local code, product labels
 * and a licensed electrician decide. */
#ifndef TC_ELECTRIC_H
#define TC_ELECTRIC_H

/* Share of a breaker that loads of 3 hours and more may fill: they count at
 * 125 % (NEC 210.19(A)(1), 210.20(A)), and 1/1.25 = 0.8. */
#define CONTINUOUS_SHARE 0.8

/* Usual advice on the volts that a branch circuit and the whole way from the
 * service may lose: common practice, no rule. */
#define DROP_BRANCH_PERCENT 3.0
#define DROP_TOTAL_PERCENT  5.0

/* Amperes of a load; 0 without volts. */
double load_amps(double watts, double volts);

/* Ohms of 1000 ft of stranded uncoated copper wire at 75 C (NEC chapter 9,
 * table 8), for 18, 16, 14, 12 and 10 AWG; 0 for a gauge that is not there. */
double copper_ohms_per_kft(int awg);

/* Amperes that a flexible cord with two wires in use is rated for at 30 C
 * (NEC table 400.5(A)(1), column B), for 18, 16, 14 and 12 AWG; else 0. */
double cord_rated_amps(int awg);

/* Volts dropped over a cord, out and back: 2 L I R / 1000 (single phase).
 * Length one way, in feet. 0 for a gauge that is not in the table. */
double cord_drop_volts(int awg, double length_ft, double amps);

/* The length, one way in feet, at which a cord loses `percent` of `volts`;
 * 0 for a gauge that is not in the table, or no current. */
double cord_length_ft(int awg, double amps, double volts, double percent);

/* Milliseconds of a half-cycle: the smallest step of a phase-cut dimmer. */
double half_cycle_ms(double hz);

#endif
