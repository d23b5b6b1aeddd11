/* The thunder synthesiser against published figures and worked geometry, and
 * its labels against sounds whose cracks and rumbles are known beforehand. */
#include "check.h"

#include "thunder.h"
#include "truth.h"

static const double pi = 3.14159265358979323846;

/* ---- Published figures --------------------------------------------------- */

/* c = 331.3 sqrt(1 + t / 273.15), worked by hand to 0.01 m/s. */
static void test_speed_of_sound(void **state)
{
    (void)state;
    static const struct { double celsius, speed; } rows[] = {
        { -20, 318.94 }, { 0, 331.30 }, { 10, 337.31 }, { 15, 340.28 }, { 20, 343.21 }, { 30, 349.02 },
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        assert_near(air_sound_speed(rows[i].celsius), rows[i].speed, 0.006);
    }
}

/* ISO 9613-2 table 2, 20 degrees and 70 % (figures from memory). */
static const struct { double hz, db_per_km; } air[] = {
    { 62.5, 0.1 }, { 125, 0.3 }, { 250, 1.1 }, { 500, 2.8 },
    { 1000, 5.0 }, { 2000, 9.0 }, { 4000, 22.9 }, { 8000, 76.6 },
};

static void test_air_loss(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT(air); i++) {
        assert_near(air_loss(air[i].hz), air[i].db_per_km, 1e-9);
    }
    for (double hz = 20; hz < 90000; hz *= 1.1) assert_true(air_loss(1.1 * hz) > air_loss(hz));
}

/* Few 1969: f = 0.63 c sqrt(P0 / E) at c = 340 m/s (form from memory). */
static void test_nwave_peak_frequency(void **state)
{
    (void)state;
    static const struct { double joules_per_m, hz, within; } rows[] = {
        { 1e4, 682, 0.5 }, { 1e5, 215.6, 0.05 }, { 1e6, 68.2, 0.05 },
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        assert_near(nwave_peak_hz(rows[i].joules_per_m, 340), rows[i].hz, rows[i].within);
    }
}

/* Magnitude of the spectrum of an N-wave, by the sum over its samples. */
static double spectrum(double length, double hz)
{
    enum { STEPS = 4000 };
    double re = 0, im = 0;
    for (int i = 0; i < STEPS; i++) {
        const double t = (i + 0.5) * length / STEPS;
        re += nwave(t, length) * cos(2 * pi * hz * t);
        im += nwave(t, length) * sin(2 * pi * hz * t);
    }
    return hypot(re, im) * length / STEPS;
}

static double bessel(double x)
{
    return sin(x) / (x * x) - cos(x) / x;
}

/* The spectrum is T |j1(pi f T)|, greatest at f T = 0.6626: T = 3, 5 and 10 ms
 * peak at 221, 132.5 and 66 Hz. */
static void test_nwave_spectrum(void **state)
{
    (void)state;
    static const struct { double length, hz; } rows[] = { { 0.003, 221 }, { 0.005, 132.5 }, { 0.010, 66.26 } };
    for (size_t i = 0; i < COUNT(rows); i++) {
        double best = 0, at = 0;
        for (double hz = 20; hz < 1000; hz += 0.05) {
            const double now = spectrum(rows[i].length, hz);
            if (now > best) best = now, at = hz;
        }
        assert_near(at * rows[i].length, 0.6626, 0.0005);
        assert_near(at, rows[i].hz, 0.2);
        for (double hz = 30; hz < 2000; hz *= 1.7) {
            assert_near(spectrum(rows[i].length, hz),
                                rows[i].length * fabs(bessel(pi * hz * rows[i].length)), 1e-6);
        }
    }
    const double length = nwave_length(1e5, 340);
    assert_near(length * nwave_peak_hz(1e5, 340), 0.6626, 1e-12);
}

/* Spread out, the wave is the mean of the sharp one over the spread. */
static void test_nwave_spread_is_a_mean(void **state)
{
    (void)state;
    static const double spreads[] = { 0.0005, 0.003, 0.02 };
    const double length = 0.004;
    for (size_t i = 0; i < 3; i++) {
        for (double t = -0.001; t < 0.03; t += 0.00037) {
            enum { STEPS = 20000 };
            double sum = 0;
            for (int n = 0; n < STEPS; n++) sum += nwave(t - (n + 0.5) / STEPS * spreads[i], length);
            assert_near(nwave_spread(t, length, spreads[i]), sum / STEPS, 1e-3);
        }
    }
}

/* ---- Geometry ------------------------------------------------------------ */

static void upright(struct bolt *b, double distance_m, double height_m)
{
    for (double z = 0; z < height_m; z += 10) {
        const struct segment s = {
            .from = { distance_m, 0, z }, .to = { distance_m, 0, z + 10 },
            .joules_per_m = 1e5, .share = 1,
        };
        assert_true(bolt_add(b, &s));
    }
}

/* A straight upright channel of 5 km at 343.21 m/s: the foot is heard after
 * d / c, the top after sqrt(d^2 + h^2) / c (Pythagoras). */
static void test_upright_channel(void **state)
{
    (void)state;
    static const struct { double km, start_s, length_s; } rows[] = {
        { 0.1, 0.291, 14.28 }, { 1, 2.914, 11.94 }, { 5, 14.568, 6.03 }, { 10, 29.137, 3.44 },
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        struct bolt b = { 0 };
        upright(&b, rows[i].km * 1000, 5000);
        double first, last;
        bolt_heard(&b, 343.21, &first, &last);
        assert_near(first, rows[i].start_s, 0.0006);
        assert_near(last - first, rows[i].length_s, 0.006);

        /* and so is its sound, to the sample */
        enum { RATE = 8000, LENGTH = 40 * RATE };
        double *sound = calloc(LENGTH, sizeof *sound);
        assert_non_null(sound);
        bolt_sound(&b, 343.21, RATE, 0, sound, LENGTH);
        size_t from = 0, to = LENGTH;
        while (from < LENGTH && sound[from] == 0) from++;
        while (to > 0 && sound[to - 1] == 0) to--;
        assert_near((double)from / RATE, first, 2.0 / RATE);
        assert_near((double)to / RATE, last + nwave_length(1e5, 343.21), 2.0 / RATE);
        free(sound);
        bolt_clear(&b);
    }
}

/* Spherical spreading: 6.02 dB for each doubling of the distance. */
static void test_spreading(void **state)
{
    (void)state;
    double peak[2] = { 0 };
    for (int i = 0; i < 2; i++) {
        enum { LENGTH = 48000 };
        static double sound[LENGTH];
        const double distance = i ? 2000 : 1000;
        struct bolt b = { 0 };
        const struct segment across = {
            .from = { distance, -0.5, 0 }, .to = { distance, 0.5, 0 }, .joules_per_m = 1e5, .share = 1,
        };
        assert_true(bolt_add(&b, &across));
        for (size_t n = 0; n < LENGTH; n++) sound[n] = 0;
        bolt_sound(&b, 340, 48000, distance / 340 - 0.1, sound, LENGTH);
        for (size_t n = 0; n < LENGTH; n++) peak[i] = fmax(peak[i], fabs(sound[n]));
        bolt_clear(&b);
    }
    assert_near(20 * log10(peak[0] / peak[1]), 6.02, 0.02);
}

/* A tone that has come one kilometre has lost what the table says; the air
 * neither moves nor changes what has come no way at all. */
static void test_air_takes_its_share(void **state)
{
    (void)state;
    enum { RATE = 44100, LENGTH = RATE };
    static double sound[LENGTH];
    for (size_t i = 0; i < COUNT(air); i++) {
        const double speed = 340;
        for (size_t n = 0; n < LENGTH; n++) sound[n] = sin(2 * pi * air[i].hz * (double)n / RATE);
        const double start_s = 1000 / speed - 0.5;
        assert_true(bolt_air(speed, RATE, start_s, sound, LENGTH));
        double power = 0;
        const size_t from = LENGTH / 2 - RATE * 8 / 100, to = LENGTH / 2 + RATE * 8 / 100; /* whole cycles */
        for (size_t n = from; n < to; n++) power += sound[n] * sound[n] / (double)(to - from);
        assert_near(-10 * log10(2 * power), air[i].db_per_km, 0.02 * air[i].db_per_km + 0.1);
    }
    for (size_t n = 0; n < LENGTH; n++) sound[n] = sin((double)(n * n) / 1e4);
    assert_true(bolt_air(1e-9, RATE, 0, sound, LENGTH));
    for (size_t n = 0; n < LENGTH; n++) assert_near(sound[n], sin((double)(n * n) / 1e4), 1e-9);
}

/* Near is sharp, far is dull; a roll lasts 5 to 20 s (common figures). */
static void test_grown_bolts(void **state)
{
    (void)state;
    enum { RATE = 22050 };
    for (uint64_t seed = 0; seed < 4; seed++) {
        double sharp_db[2] = { 0 };
        for (int far = 0; far < 2; far++) {
            struct dice d = dice_for(seed, 0), again = dice_for(seed, 0);
            const struct bolt_form form = bolt_form_draw(far ? 6000 : 400, &d);
            bolt_form_draw(0, &again);
            struct bolt b = { 0 }, twin = { 0 };
            assert_true(bolt_grow(&b, &form, &d) && bolt_scatter(&b, &d));
            assert_true(bolt_grow(&twin, &form, &again) && bolt_scatter(&twin, &again));
            assert_int_equal(b.count, twin.count);
            double first, last;
            bolt_heard(&b, 343.21, &first, &last);
            for (size_t i = 0; i < b.count; i++) {
                assert_true(b.segments[i].to.z >= -form.height_m);
                assert_memory_equal(&b.segments[i].to, &twin.segments[i].to, sizeof b.segments[i].to);
            }
            assert_in_range((int64_t)(last - first), 2, 30);
            assert_true(first <= form.distance_m / 343.21);

            const size_t count = (size_t)((last - first) * RATE);
            double *sound = calloc(count, sizeof *sound);
            assert_non_null(sound);
            bolt_sound(&b, 343.21, RATE, first, sound, count);
            assert_true(bolt_air(343.21, RATE, first, sound, count));
            struct truth_bands bands = truth_bands_begin(RATE);
            double power[TRUTH_BANDS] = { 0 };
            for (size_t n = 0; n < count; n++) truth_bands_step(&bands, sound[n], power);
            sharp_db[far] = 10 * log10(power[4] / power[1]); /* 2 kHz against 250 Hz */
            free(sound);
            bolt_clear(&b);
            bolt_clear(&twin);
        }
        /* 5.6 km more of air take 44 dB more at 2 kHz than at 250 Hz, of which the
         * skirts of these filters let a third be seen. */
        assert_true(sharp_db[0] > sharp_db[1] + 44.0 / 3);
    }
}

/* ---- Labels -------------------------------------------------------------- */

/* A clap of noise that begins at once and dies away, over a steady murmur. */
static double clap(double t, double start, double decay_s, struct dice *d)
{
    const double noise = dice_normal(d);
    return t < start ? 0 : noise * exp(-(t - start) / decay_s);
}

static void hear(double rate, const double *starts, size_t count, double strength, struct truth_labels *to)
{
    static struct truth t;
    double under[TRUTH_BANDS];
    struct dice d = dice_for(1, 2);
    for (int k = 0; k < TRUTH_BANDS; k++) under[k] = 1e-5;
    t = truth_begin(rate, under);
    for (double n = 0; n < 4 * rate; n++) {
        double x = 0.001 * dice_normal(&d);
        for (size_t i = 0; i < count; i++) x += strength * clap(n / rate, starts[i], 0.05, &d);
        assert_true(truth_step(&t, x, to));
    }
}

/* Claps that begin at known times are told within 5 ms, at any rate. */
static void test_cracks_are_where_they_begin(void **state)
{
    (void)state;
    static const double starts[] = { 0.7, 1.1, 2.0123, 2.9 };
    static const double rates[] = { 8000, 22050, 44100, 96000 };
    for (size_t r = 0; r < 4; r++) {
        struct truth_labels labels = { 0 };
        hear(rates[r], starts, 4, 0.2, &labels);
        assert_int_equal(labels.count, 4);
        for (size_t i = 0; i < 4; i++) {
            assert_int_equal(labels.list[i].kind, TRUTH_CRACK);
            assert_int_equal(labels.list[i].weight, 3);
            assert_near(labels.list[i].start_s, starts[i], 0.005);
        }
        truth_labels_clear(&labels);
    }
}

static void test_attacks_close_together_are_one(void **state)
{
    (void)state;
    static const struct { double starts[2]; size_t cracks; } rows[] = {
        { { 1.5, 1.56 }, 1 }, { { 1.5, 1.9 }, 2 },
    };
    for (size_t i = 0; i < 2; i++) {
        struct truth_labels labels = { 0 };
        hear(44100, rows[i].starts, 2, 0.2, &labels);
        assert_int_equal(labels.count, rows[i].cracks);
        assert_near(labels.list[0].start_s, 1.5, 0.005);
        truth_labels_clear(&labels);
    }
}

/* A swell of under 4 dB is no crack, nor is a steady murmur. */
static void test_small_rises_are_none(void **state)
{
    (void)state;
    static const double starts[] = { 1.5 };
    struct truth_labels labels = { 0 };
    hear(44100, starts, 1, 0.004, &labels);
    assert_int_equal(labels.count, 0);
    truth_labels_clear(&labels);
}

/* A tone that falls by 10 dB a second is 30 dB down after 3 s. */
static void test_rumble_ends_at_30_db(void **state)
{
    (void)state;
    enum { RATE = 8000, LENGTH = 8 * RATE };
    static double sound[LENGTH];
    for (size_t n = 0; n < LENGTH; n++) {
        const double t = (double)n / RATE - 1;
        sound[n] = t < 0 ? 0 : sin(2 * pi * 200 * t) * pow(10, -10 * t / 20);
    }
    static const struct { double under, end_s; } rows[] = {
        { 1e-12, 14.0 }, { 0.5 * 0.1 / 3, 12.0 }, /* what lies underneath cuts it at -10 dB */
    };
    for (size_t i = 0; i < 2; i++) {
        struct truth_labels labels = { 0 };
        assert_true(truth_rumbles(sound, LENGTH, RATE, 10, rows[i].under, &labels));
        assert_int_equal(labels.count, 1);
        assert_int_equal(labels.list[0].kind, TRUTH_RUMBLE);
        assert_near(labels.list[0].start_s, 11.0, 0.16);
        assert_near(labels.list[0].end_s, rows[i].end_s, 0.25);
        truth_labels_clear(&labels);
    }
}

static void test_labels_settle(void **state)
{
    (void)state;
    static const struct truth_label given[] = {
        { TRUTH_RUMBLE, 5, 8, 0 }, { TRUTH_CRACK, 6, 6, 3 }, { TRUTH_RUMBLE, 7, 9, 0 },
        { TRUTH_RUMBLE, 1, 2, 0 }, { TRUTH_CRACK, 5, 5, 1 },
    };
    static const struct truth_label expected[] = {
        { TRUTH_RUMBLE, 1, 2, 0 }, { TRUTH_CRACK, 5, 5, 1 }, { TRUTH_RUMBLE, 5, 9, 0 }, { TRUTH_CRACK, 6, 6, 3 },
    };
    struct truth_labels labels = { 0 };
    for (size_t i = 0; i < 5; i++) assert_true(truth_labels_add(&labels, given[i]));
    truth_labels_settle(&labels);
    assert_int_equal(labels.count, 4);
    for (size_t i = 0; i < 4; i++) {
        assert_int_equal(labels.list[i].kind, expected[i].kind);
        assert_near(labels.list[i].start_s, expected[i].start_s, 0);
        assert_near(labels.list[i].end_s, expected[i].end_s, 0);
    }
    truth_labels_clear(&labels);
}

/* Mean and spread as they must be, within five standard errors. */
static void test_dice_are_fair(void **state)
{
    (void)state;
    struct dice d = dice_for(7, 7);
    double mean = 0, square = 0, uniform = 0;
    const double n = 200000;
    for (double i = 0; i < n; i++) {
        const double x = dice_normal(&d), u = dice_uniform(&d);
        assert_true(u >= 0 && u < 1);
        mean += x / n;
        square += x * x / n;
        uniform += u / n;
    }
    assert_near(mean, 0, 5 / sqrt(n));
    assert_near(square, 1, 5 * sqrt(2 / n));
    assert_near(uniform, 0.5, 5 / sqrt(12 * n));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_speed_of_sound),
        cmocka_unit_test(test_air_loss),
        cmocka_unit_test(test_nwave_peak_frequency),
        cmocka_unit_test(test_nwave_spectrum),
        cmocka_unit_test(test_nwave_spread_is_a_mean),
        cmocka_unit_test(test_upright_channel),
        cmocka_unit_test(test_spreading),
        cmocka_unit_test(test_air_takes_its_share),
        cmocka_unit_test(test_grown_bolts),
        cmocka_unit_test(test_cracks_are_where_they_begin),
        cmocka_unit_test(test_attacks_close_together_are_one),
        cmocka_unit_test(test_small_rises_are_none),
        cmocka_unit_test(test_rumble_ends_at_30_db),
        cmocka_unit_test(test_labels_settle),
        cmocka_unit_test(test_dice_are_fair),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
