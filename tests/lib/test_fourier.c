/* The transform against kissfft, an independent implementation, and against
 * what is known of transforms (Parseval; a shifted unit pulse). */
#include "check.h"

#include <kiss_fft.h>

#include "hearing/fourier.h"

#define CLOSE 2e-6 /* of the largest magnitude: single precision, some 600 terms */

static void sizes_are_even_products_of_2_and_3(void **state)
{
    (void)state;
    static const size_t rows[][2] = { { 1, 2 }, { 2, 2 }, { 3, 4 }, { 186, 192 }, { 512, 512 }, { 513, 576 }, { 557, 576 }, { 577, 648 } };
    for (size_t i = 0; i < COUNT(rows); i++) assert_int_equal(fourier_size(rows[i][0]), rows[i][1]);
    struct fourier *f;
    assert_int_equal(fourier_create(&f, 10), TC_ERR_USAGE);
    assert_int_equal(fourier_create(&f, 1), TC_ERR_USAGE);
}

static void it_agrees_with_kissfft_in_every_lane(void **state)
{
    (void)state;
    static const size_t sizes[] = { 2, 4, 6, 8, 12, 18, 54, 128, 192, 256, 384, 512, 576, 768, 1024 };
    for (size_t n = 0; n < COUNT(sizes); n++) {
        size_t size = sizes[n];
        struct fourier *f;
        struct quad *x = calloc(size, sizeof *x);
        kiss_fft_cpx *in = calloc(size, sizeof *in), *out = calloc(size, sizeof *out);
        kiss_fft_cfg kiss = kiss_fft_alloc((int)size, 0, NULL, NULL);
        assert_true(x && in && out && kiss && fourier_create(&f, size) == TC_OK);
        for (int lane = 0; lane < FOURIER_LANES; lane++) {
            uint32_t noise = 1;
            for (size_t i = 0; i < size; i++)
                for (int l = 0; l < FOURIER_LANES; l++) {
                    noise = noise * 1664525u + 1013904223u;
                    x[i].re[l] = (float)(noise >> 8) / 8388608.0f - 1;
                    noise = noise * 1664525u + 1013904223u;
                    x[i].im[l] = (float)(noise >> 8) / 8388608.0f - 1;
                    if (l == lane) in[i] = (kiss_fft_cpx){ x[i].re[l], x[i].im[l] };
                }
            kiss_fft(kiss, in, out);
            const struct quad *z = fourier_run(f, x);
            double most = 0, sum = 0, power = 0;
            for (size_t k = 0; k < size; k++) most = fmax(most, fmax(fabs((double)out[k].r), fabs((double)out[k].i)));
            for (size_t k = 0; k < size; k++) {
                assert_near((double)z[k].re[lane], (double)out[k].r, CLOSE * most);
                assert_near((double)z[k].im[lane], (double)out[k].i, CLOSE * most);
                power += (double)z[k].re[lane] * (double)z[k].re[lane] + (double)z[k].im[lane] * (double)z[k].im[lane];
                sum += (double)in[k].r * (double)in[k].r + (double)in[k].i * (double)in[k].i;
            }
            assert_near(power / (double)size / sum, 1, 1e-5); /* Parseval */
        }
        fourier_destroy(f);
        kiss_fft_free(kiss);
        free(x), free(in), free(out);
    }
    fourier_destroy(NULL);
}

static void a_late_pulse_turns_with_frequency(void **state)
{
    (void)state;
    enum { SIZE = 48, LATE = 5 };
    struct fourier *f;
    struct quad x[SIZE] = { 0 };
    assert_int_equal(fourier_create(&f, SIZE), TC_OK);
    x[LATE].re = (four){ 1, 1, 1, 1 };
    const struct quad *z = fourier_run(f, x);
    for (int k = 0; k < SIZE; k++) {
        assert_near((double)z[k].re[2], cos(-2 * 3.14159265358979 * k * LATE / SIZE), 1e-6);
        assert_near((double)z[k].im[2], sin(-2 * 3.14159265358979 * k * LATE / SIZE), 1e-6);
    }
    fourier_destroy(f);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sizes_are_even_products_of_2_and_3),
        cmocka_unit_test(it_agrees_with_kissfft_in_every_lane),
        cmocka_unit_test(a_late_pulse_turns_with_frequency),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
