/* Counts flashes the slow way, from levels alone, and shares nothing with the
 * library: own weights, own curves, own sums, and no state that runs on. For
 * every moment at which somebody may begin to look it finds the longest row of
 * opposing changes of 10 % within the second, by trying all pairs (WCAG 2.2, SC
 * 2.3.1: changes from peak to valley, three flashes in any second). */
#ifndef TC_TESTS_FLASH_BRUTE_H
#define TC_TESTS_FLASH_BRUTE_H

#include "check.h"

#include "thundercue.h"

#define BRUTE_CHANGE (0.10 - 1e-9)
enum { BRUTE_SERIES_MOST = 3 + 16, BRUTE_ROWS_MOST = 1100 };

/* Longest row of opposing changes among light[0..n-1], the first of which is
 * what the look begins with. */
static inline int brute_row(const double *light, size_t n)
{
    static int up[BRUTE_ROWS_MOST], down[BRUTE_ROWS_MOST]; /* changes of the longest row that ends
                                                              here with a rise, a fall */
    int most = 0;
    assert_true(n <= BRUTE_ROWS_MOST);
    for (size_t j = 0; j < n; j++) {
        up[j] = down[j] = 0;
        for (size_t i = 0; i < j; i++) {
            if (light[j] - light[i] >= BRUTE_CHANGE && down[i] + 1 > up[j]) up[j] = down[i] + 1;
            if (light[i] - light[j] >= BRUTE_CHANGE && up[i] + 1 > down[j]) down[j] = up[i] + 1;
        }
        if (up[j] > most) most = up[j];
        if (down[j] > most) most = down[j];
    }
    return most;
}

/* The most changes that any look of a second finds in one series of light at
 * moments in microseconds, light held from one to the next. */
static inline int brute_peak(const double *light, const int64_t *at_us, size_t n)
{
    int most = 0;
    for (size_t from = 0; from + 1 < n; from++) {
        size_t to = from + 1;
        while (to < n && at_us[to] - at_us[from + 1] < 1000000) to++;
        int row = brute_row(light + from, to - from);
        if (row > most) most = row;
    }
    return most;
}

/* ---- Several series: branches, floods and groups together ---- */

/* light[row * series + s]; the changes of all series in one look, each counted
 * when it goes against the last one counted. Looks begin at every `each`th row. */
static inline int brute_together(const double *light, size_t series, const int64_t *at_us, size_t n, size_t each)
{
    int most = 0;
    for (size_t from = 0; from + 1 < n; from += each) {
        double low[BRUTE_SERIES_MOST], high[BRUTE_SERIES_MOST];
        int last[BRUTE_SERIES_MOST] = { 0 }, heading = 0, count = 0;
        for (size_t s = 0; s < series; s++) low[s] = high[s] = light[from * series + s];
        for (size_t k = from + 1; k < n && at_us[k] - at_us[from + 1] < 1000000; k++) {
            int rises = 0, falls = 0;
            for (size_t s = 0; s < series; s++) {
                double x = light[k * series + s];
                bool rose = last[s] != 1 && x - low[s] >= BRUTE_CHANGE,
                    fell = last[s] != -1 && high[s] - x >= BRUTE_CHANGE;
                if (rose || fell) {
                    rises += rose;
                    falls += fell && !rose;
                    last[s] = rose ? 1 : -1;
                    low[s] = high[s] = x;
                }
                low[s] = fmin(low[s], x);
                high[s] = fmax(high[s], x);
            }
            if (!heading) heading = rises >= falls ? -1 : 1;
            if (!rises && !falls && !count) heading = 0;
            while ((heading == 1 && falls > 0) || (heading == -1 && rises > 0)) {
                if (heading == 1) falls--;
                else rises--;
                heading = -heading;
                count++;
            }
        }
        if (count > most) most = count;
    }
    return most;
}

/* ---- From levels ---- */

static inline double brute_lamp(const struct tc_channel *c, double percent)
{
    if (percent <= 0 || percent < c->min_level || c->max_level <= c->min_level) return 0;
    double x = fmin(1, (percent - c->min_level) / (c->max_level - c->min_level));
    if (c->curve == TC_CURVE_SQUARE) return x * x;
    if (c->curve == TC_CURVE_LSTAR) return x > 0.08 ? pow((100 * x + 16) / 116, 3) : 100 * x / 903.2963; /* CIE 15 */
    return x;
}

static inline double brute_weight(const struct tc_rig *rig, size_t channel)
{
    double watts = 0;
    size_t with = 0, lumens = 0;
    for (size_t c = 0; c < rig->channel_count; c++) {
        lumens += rig->channels[c].lumens > 0;
        with += rig->channels[c].watts > 0;
        watts += fmax(0, rig->channels[c].watts);
    }
    if (lumens == rig->channel_count) return rig->channels[channel].lumens;
    if (rig->channels[channel].watts > 0) return rig->channels[channel].watts;
    return with ? watts / (double)with : 1;
}

static inline bool brute_in(const struct tc_channel *c, size_t series)
{
    if (series == 0) return true;
    if (series == 1) return c->kind == TC_BRANCH;
    if (series == 2) return c->kind == TC_FLOOD;
    return c->group == (int)series - 3;
}

/* Light of all series in shares of their all-on light, [row * series + s], from
 * lamps' light 0..1, lamp[row * channels + c]. A dark row is put before the
 * first. The caller frees it. */
static inline double *brute_series(const struct tc_rig *rig, const double *lamp, size_t rows)
{
    size_t n = rig->channel_count, series = 3 + rig->group_count;
    double *light = calloc((rows + 1) * series, sizeof *light);
    assert_true(light && series <= BRUTE_SERIES_MOST);
    for (size_t s = 0; s < series; s++) {
        double all_on = 0;
        for (size_t c = 0; c < n; c++)
            if (brute_in(&rig->channels[c], s)) all_on += brute_weight(rig, c);
        for (size_t c = 0; c < n && all_on > 0; c++) {
            double weight = brute_in(&rig->channels[c], s) ? brute_weight(rig, c) / all_on : 0;
            for (size_t k = 0; weight > 0 && k < rows; k++) light[(k + 1) * series + s] += weight * lamp[k * n + c];
        }
    }
    return light;
}

/* The worst of all series and of branches, floods and groups together. Looks
 * begin at every row; those at all together at every `each`th. With `each`
 * above 1 a series is followed from change to change instead of trying pairs. */
static inline int brute_show_each(const struct tc_rig *rig, const double *lamp, const int64_t *at_us, size_t rows,
                                  size_t each)
{
    size_t series = 3 + rig->group_count;
    double *light = brute_series(rig, lamp, rows), *one = calloc(rows + 1, sizeof *one);
    double *parts = calloc((rows + 1) * series, sizeof *parts);
    int64_t *us = calloc(rows + 1, sizeof *us);
    assert_true(one && parts && us);
    us[0] = INT64_MIN / 2;
    memcpy(us + 1, at_us, rows * sizeof *us);
    int most = 0;
    for (size_t s = 0; s < series; s++) {
        for (size_t k = 0; k <= rows; k++) one[k] = light[k * series + s];
        int peak = each > 1 ? brute_together(one, 1, us, rows + 1, 1) : brute_peak(one, us, rows + 1);
        if (peak > most) most = peak;
    }
    for (size_t k = 0; k <= rows; k++)
        for (size_t s = 1; s < series; s++) parts[k * (series - 1) + s - 1] = light[k * series + s];
    int peak = brute_together(parts, series - 1, us, rows + 1, each);
    if (peak > most) most = peak;
    free(light);
    free(one);
    free(parts);
    free(us);
    return most;
}

static inline int brute_show(const struct tc_rig *rig, const double *lamp, const int64_t *at_us, size_t rows)
{
    return brute_show_each(rig, lamp, at_us, rows, 1);
}

#endif
