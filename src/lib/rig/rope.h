/* Sums of a line that is stretched between two points of the same height and
 * carries a weight in its middle, a weight spread along it, or both. Pure
 * functions in any consistent units (N and m, lb and ft).
 *
 * The formulas are statics of a taut line: the weight that is spread counts as
 * even along the span, so the line is a parabola between its ends (textbook
 * approximation; 1.5 % low against the catenary at a sag of a tenth of the
 * span). Wind, ice, wet rope, jerks, anchors and the people below are not in
 * them: a qualified rigger decides on what hangs overhead. */
#ifndef TC_ROPE_H
#define TC_ROPE_H

/* The rope's tension at its ends, where it is greatest. With the sag s, span
 * L, centre weight W and spread weight w per length: the pull along the span
 * is H = (W L/4 + w L^2/8) / s, each end carries V = (W + w L)/2, and the
 * tension is sqrt(H^2 + V^2). Both weights 0 give 0. */
double rope_tension(double span, double sag, double centre, double uniform);

/* The length of a line that hangs in a V. */
double rope_length_v(double span, double sag);

/* The sag of a V whose line has become longer by `share` of its length
 * (0.01 = 1 %): what stretch makes of a tight line. */
double rope_sag_stretched(double span, double sag, double share);

/* What a knot of unknown kind leaves of a rope's strength: the least of what is
 * said of knots, which take up to half. */
#define KNOT_UNKNOWN 0.5

/* The tension that a rope is good for: breaking strength x what its knot
 * leaves of it / design factor. */
double rope_working_load(double breaking, double knot, double design_factor);
/* And the breaking strength that a tension asks for. */
double rope_breaking_needed(double tension, double knot, double design_factor);

#endif
