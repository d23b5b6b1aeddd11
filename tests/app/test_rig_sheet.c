/* The rig sheet's sums against published and hand-worked values, its findings,
 * its form; and the rig files to start from, which must read back. */
#include "check.h"
#include "scratch.h"

#include "app/report/cautions.h"
#include "app/report/text_width.h"
#include "app/sheet/rig_sheet.h"
#include "app/sheet/rig_sums.h"
#include "io/files/read_form.h"
#include "io/files/stream.h"
#include "rig/rig_new.h"
#include "words/csv.h"
#include "words/text.h"

static struct tc_rig rig_from(const char *file)
{
    struct tc_rig rig;
    struct tc_problem why = { "" };
    if (read_rig(file, &rig, &why) != TC_OK) fail_msg("%s", why.text);
    return rig;
}

static struct tc_rig rig_of(const char *text)
{
    FILE *out = fopen(scratch_at("t.rig"), "wb");
    assert_non_null(out);
    fputs(text, out);
    fclose(out);
    return rig_from(scratch_at("t.rig"));
}

/* The sheet as a string, which the caller frees, and its number of findings.
 * (Inlined, gcc 12 takes the string for a pointer to the local variable.) */
__attribute__((noinline)) static char *sheet_of(const struct tc_rig *rig, size_t *findings)
{
    char *text = NULL;
    size_t size = 0, found;
    FILE *out = open_memstream(&text, &size);
    assert_non_null(out);
    found = rig_sheet_text(out, rig);
    fclose(out);
    if (findings) *findings = found;
    return text;
}

static void assert_says(const char *text, const char *want)
{
    if (!strstr(text, want)) fail_msg("'%s' is not in:\n%s", want, text);
}

static void assert_silent(const char *text, const char *word)
{
    if (strstr(text, word)) fail_msg("'%s' is in:\n%s", word, text);
}

/* ---- The built-in rig ---- */

static void sheet_of_the_built_in_rig(void **state)
{
    (void)state;
    struct tc_rig rig;
    size_t findings;
    assert_int_equal(tc_rig_builtin(&rig), TC_OK);
    char *text = sheet_of(&rig, &findings);
    assert_int_equal(findings, 0);
    assert_says(text, "16 channels (12 branches, 4 floods), mains 120 V 60 Hz, all on 120.0 W, 1.00 A\n");
    assert_says(text, "every 8.3 ms"); /* half a cycle of 60 Hz */
    assert_says(text,
        "  1 trunk top\n"
        "  ├─ 2 trunk middle\n"
        "  │  ├─ 3 trunk low\n"
        "  │  │  ├─ 4 trunk tip\n"
        "  │  │  ├─ 9 low left fork\n"
        "  │  │  │  └─ 10 low left tip\n"
        "  │  │  └─ 12 low right twig\n"
        "  │  └─ 7 right fork\n"
        "  │     └─ 8 right tip\n"
        "  ├─ 5 high left fork\n"
        "  │  └─ 6 high left tip\n"
        "  └─ 11 high right twig\n");
    assert_says(text,
                "   4  trunk tip           branch  3 trunk low       led       5  0.04  main     0..100  linear\n");
    /* NEC 210.19(A)(1): 80 % of 15 A at 120 V is 12 A, 1440 W */
    assert_says(text, "  main        15 A  120 V        16  120.0 W  1.00 A       6.7 %  12.00 A = 1440 W  11.00 A\n");
    assert_says(text, "\nFindings: none\n");
    assert_says(text, "licensed electrician");
    assert_says(text, "can trigger seizures");
    assert_silent(text, "Dimmer");
    assert_silent(text, "Cord runs");
    assert_silent(text, "Overhead");
    assert_silent(text, " \n");
    free(text);
    tc_rig_clear(&rig);
}

/* ---- Findings ---- */

#define CIRCUIT "[circuit a]\nbreaker_amps = 15\n"

struct heard {
    size_t count;
    char text[2000];
};

static void hear(void *user, const struct rig_finding *finding)
{
    struct heard *h = user;
    size_t used = strlen(h->text);
    snprintf(h->text + used, sizeof h->text - used, "%d %s\n", finding->channel, finding->text);
    h->count++;
}

/* Each limit, just kept and just broken. */
static void findings_begin_above_the_limit(void **state)
{
    (void)state;
    static const struct { const char *text, *want; } rows[] = {
        /* 15 A at 120 V: 1440 W are 80 % (NEC 210.19(A)(1)), 1800 W are all */
        { CIRCUIT "[channel 1]\nkind = flood\nwatts = 1440\ncircuit = a\n", "" },
        { CIRCUIT "[channel 1]\nkind = flood\nwatts = 1441.2\ncircuit = a\n", "-1 circuit a: 12.01 A all on is above 12.00 A, 80 % of its 15 A breaker\n" },
        { CIRCUIT "[channel 1]\nkind = flood\nwatts = 1800\ncircuit = a\n", "-1 circuit a: 15.00 A all on is above 12.00 A, 80 % of its 15 A breaker\n" },
        { CIRCUIT "[channel 1]\nkind = flood\nwatts = 1801.2\ncircuit = a\n", "-1 circuit a: 15.01 A all on is above its 15 A breaker\n" },
        /* 20 A: 1920 W; 0.1 A 14400 times over adds up without a finding from rounding */
        { "[circuit b]\nbreaker_amps = 20\n[channel 1]\nkind = flood\nwatts = 1920\ncircuit = b\n", "" },
        { "[circuit b]\nbreaker_amps = 16\nvolts = 230\n[channel 1]\nkind = flood\nwatts = 2944\ncircuit = b\n", "" },
        /* two circuits don't add up */
        { CIRCUIT "[circuit b]\nbreaker_amps = 15\n[channel 1]\nkind = flood\nwatts = 1000\ncircuit = a\n[channel 2]\nkind = flood\nwatts = 1000\ncircuit = b\n", "" },
        /* the dimmer's outputs and banks */
        { CIRCUIT "[channel 3]\nkind = flood\nwatts = 120\ncircuit = a\nmax_amps = 1\n", "" },
        { CIRCUIT "[channel 3]\nkind = flood\nwatts = 121.2\ncircuit = a\nmax_amps = 1\n", "0 channel 3: 1.01 A is above the 1 A of its dimmer output\n" },
        { CIRCUIT "[channel 3]\nkind = flood\nwatts = 120\ncircuit = a\n[channel 4]\nkind = flood\nwatts = 120\ncircuit = a\n[channel 5]\nkind = flood\nwatts = 120\ncircuit = a\n"
          "[bank A]\nfirst = 3\nlast = 4\nmax_amps = 2\n[bank B]\nfirst = 4\nlast = 9\nmax_amps = 1.5\n",
          "-1 bank B: 2.00 A all on is above its 1.5 A\n" },
        /* cords, NEC 400.5(A)(1) column B: 18 AWG 10 A; 5 % of 120 V are 6 V */
        { CIRCUIT "[channel 3]\nkind = flood\nwatts = 1200\ncircuit = a\ncord_awg = 18\n", "" },
        { CIRCUIT "[channel 3]\nkind = flood\nwatts = 1201.2\ncircuit = a\ncord_awg = 18\n", "0 channel 3: 10.01 A is above the 10 A that a cord of 18 AWG is rated for\n" },
        { CIRCUIT "[channel 3]\nkind = flood\nwatts = 1200\ncircuit = a\ncord_awg = 16\ncord_length_ft = 60\n", "" },
        { CIRCUIT "[channel 3]\nkind = flood\nwatts = 1200\ncircuit = a\ncord_awg = 16\ncord_length_ft = 100\n",
          "0 channel 3: its cord loses 9.98 V, 8.32 % of 120 V; more than 5 % is too much by common practice\n" },
        { CIRCUIT "[channel 3]\nkind = flood\nwatts = 1200\ncircuit = a\ncord_awg = 16\ncord_length_m = 30.48\n",
          "0 channel 3: its cord loses 9.98 V, 8.32 % of 120 V; more than 5 % is too much by common practice\n" },
        /* the line: 125 lb x 12 / 0.5 = 3000 lb, to the decimal 3000.6 */
        { CIRCUIT "[channel 3]\nkind = flood\nwatts = 5\ncircuit = a\n[overhead]\nspan_ft = 50\nsag_in = 6\ncentre_lb = 5\n", "" },
        { CIRCUIT "[channel 3]\nkind = flood\nwatts = 5\ncircuit = a\n[overhead]\nspan_ft = 50\nsag_in = 6\ncentre_lb = 5\nbreaking_lb = 3001\n", "" },
        { CIRCUIT "[channel 3]\nkind = flood\nwatts = 5\ncircuit = a\n[overhead]\nspan_ft = 50\nsag_in = 6\ncentre_lb = 5\nbreaking_lb = 2999\n",
          "-1 overhead line: it pulls with 125.0 lb, but with its knot (0.5 left) and a "
          "design factor of 12 the rope is good for 125.0 lb; "
          "it would need a breaking strength of at least 3000.6 lb, or more sag\n" },
        { CIRCUIT "[channel 3]\nkind = flood\nwatts = 5\ncircuit = a\n[overhead]\nspan_m = 15\nsag_m = 0.15\ncentre_kg = 2.5\nbreaking_n = 3000\nknot = 1\ndesign_factor = 5\n",
          "-1 overhead line: it pulls with 613.0 N (62.5 kg), but with its knot (1 left) and a design factor of 5 the "
          "rope is good for 600.0 N (61.2 kg); "
          "it would need a breaking strength of at least 3065.2 N (312.6 kg), or more sag\n" },
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        struct tc_rig rig = rig_of(rows[i].text);
        struct heard h = { 0 };
        size_t findings, count = rig_findings(&rig, hear, &h);
        assert_string_equal(h.text, rows[i].want);
        assert_int_equal(count, h.count);
        assert_int_equal(rig_findings(&rig, NULL, NULL), count);
        char *text = sheet_of(&rig, &findings);
        assert_int_equal(findings, count);
        free(text);
        tc_rig_clear(&rig);
    }
}

/* A thousand small loads that make up the limit to the last bit are no finding. */
static void rounding_is_no_finding(void **state)
{
    (void)state;
    struct tc_rig rig = rig_of(CIRCUIT "[channel 1]\nkind = flood\nwatts = 5\ncircuit = a\n");
    struct tc_channel *many = calloc(500, sizeof *many);
    assert_non_null(many);
    for (int i = 0; i < 500; i++) {
        many[i] = rig.channels[0];
        many[i].number = i + 1;
        many[i].watts = 1440.0 / 500;
    }
    free(rig.channels);
    rig.channels = many;
    rig.channel_count = 500;
    assert_int_equal(rig_findings(&rig, NULL, NULL), 0);
    tc_rig_clear(&rig);
}

/* ---- Parts of the sheet ---- */

/* The figures of a busy rig, worked by hand from the sources named above. */
static void sheet_shows_its_sums(void **state)
{
    (void)state;
    struct tc_rig rig = rig_of(
        "[rig]\nname = All of it\n" CIRCUIT "[circuit spare]\nbreaker_amps = 20\nvolts = 240\n"
        "[channel 1]\nname = heavy\nkind = flood\nlamp = incandescent\nwatts = 1200\ncircuit = a\ncord_awg = 16\n"
        "cord_length_ft = 100\nmax_amps = 12\n"
        "[channel 2]\nkind = flood\nwatts = 600\ncircuit = a\ncord_awg = 12\ncord_length_m = 30.48\n"
        "[channel 3]\nkind = flood\nwatts = 5\ncircuit = a\ncord_awg = 22\ncord_length_ft = 10\n"
        "[channel 4]\nkind = flood\nwatts = 5\ncircuit = a\ncord_length_ft = 10\n"
        "[bank one]\nfirst = 1\nlast = 8\nmax_amps = 10\n"
        "[overhead]\nspan_ft = 50\nsag_ft = 0.5\ncentre_lb = 5\nuniform_lb_per_ft = 0.1\nbreaking_lb = 9000\n"
        "knot = clove-hitch\ndesign_factor = 10\n");
    size_t findings;
    char *text = sheet_of(&rig, &findings);
    assert_int_equal(findings, 3); /* circuit, cord, bank */
    assert_says(text, "15.08 A     100.6 %  12.00 A = 1440 W  OVER by 3.08 A\n");
    assert_says(text,
                "  spare       20 A  240 V         0     0.0 W   0.00 A       0.0 %  "
                "16.00 A = 3840 W         16.00 A\n");
    assert_says(text, "   1  heavy  10.00 A   12 A  2.00 A\n");
    assert_says(text, "  one   1-8 (4)   1810.0 W  15.08 A   10 A  OVER by 5.08 A\n");
    /* 100 ft: 16 AWG 10 A 9.98 V 8.32 %, 3 % at 36 ft; 12 AWG 5 A 1.98 V 1.65 % */
    assert_says(text, "   1  heavy       100 ft   16  10.00             13        9.98   36 ft  8.32 %  too much\n");
    assert_says(text, "   2  channel 2  30.48 m   12   5.00             25        1.98    55 m  1.65 %\n");
    assert_says(text, "no figures for this gauge\n");
    assert_says(text, "gauge not given\n");
    /* H = (5 x 50 / 4 + 0.1 x 2500 / 8) / 0.5 = 187.5 lb, V = 5 lb */
    assert_says(text, "  pull at each end: 187.6 lb\n");
    assert_says(text, "knot leaves 60 % of the rope's strength, design factor 10\n");
    assert_says(text, "breaking strength of at least 3126.1 lb\n");
    assert_says(text, "sags to 3.58 ft\n");
    assert_says(text, "a design factor of 12 and more");
    assert_says(text, "qualified rigger");
    assert_says(text, "Channel 1: Filament lamps are slow");
    assert_says(text, "Channels 2-4: Dim only lamps");
    assert_says(text, "\nFindings:\n");
    free(text);
    tc_rig_clear(&rig);
}

/* Where the text of a table line begins under its head, whatever is in the names. */
static void tables_line_up(void **state)
{
    (void)state;
    struct tc_rig rig = rig_of(CIRCUIT
        "[channel 1]\nname = plain\nkind = flood\nwatts = 5\ncircuit = a\n"
        "[channel 2]\nname = caf\xC3\xA9 \xE9\x9B\xB7\xE9\x9B\xB7\nkind = flood\nwatts = 5\ncircuit = a\n"
        "[channel 3]\nname = e\xCC\x81 accent apart\nkind = flood\nwatts = 5\ncircuit = a\n"
        "[channel 4]\nname = \x1B[31m\xE2\x80\xAE turned\nkind = flood\nwatts = 5\ncircuit = a\n"
        "[channel 5]\nname = an exceedingly long name that no table has room for, whatever it may say\nkind = flood\n"
        "watts = 5\ncircuit = a\n"
        "[channel 6]\nname = \xE9\x9B\xB7\xE9\x9B\xB7\xE9\x9B\xB7\xE9\x9B\xB7\xE9\x9B\xB7\xE9\x9B\xB7\xE9\x9B\xB7\xE9\x9B\xB7\xE9\x9B\xB7\xE9\x9B\xB7\xE9\x9B\xB7\xE9\x9B\xB7\xE9\x9B\xB7\xE9\x9B\xB7\xE9\x9B\xB7\xE9\x9B\xB7\nkind = flood\nwatts = 5\ncircuit = a\n");
    char *text = sheet_of(&rig, NULL), *line = strstr(text, "  ch  name");
    assert_non_null(line);
    size_t rows = 0, at = 0;
    for (char *end; (end = strchr(line, '\n')) && end > line; line = end + 1, rows++) {
        *end = 0;
        char *kind = strstr(line, rows ? "  flood  " : "  kind  ");
        assert_non_null(kind);
        *kind = 0;
        if (!rows) at = text_columns(line);
        /* names are padded to the same width, in columns, not in bytes */
        else assert_int_equal(text_columns(line), at);
        assert_null(strpbrk(line, "\x1B\r\t"));
        assert_true(text_utf8(line));
    }
    assert_int_equal(rows, 7);
    assert_int_equal(at, 6 + 28); /* behind "  ch  ", the longest name cut to 28 */
    free(text);
    tc_rig_clear(&rig);
}

static void deepest_tree_is_drawn(void **state)
{
    (void)state;
    FILE *out = fopen(scratch_at("t.rig"), "wb");
    assert_non_null(out);
    fputs(CIRCUIT, out);
    for (int n = 1; n <= TC_MAX_CHANNELS; n++)
        fprintf(out, "[channel %d]\nname = b%d\nkind = branch\nparent = %.0d\nwatts = 1\ncircuit = a\n", n, n,
                n > 3 && n % 2 ? n - 2 : n - 1);
    fclose(out);
    struct tc_rig rig = rig_from(scratch_at("t.rig"));
    char *text = sheet_of(&rig, NULL);
    for (int n = 1; n <= TC_MAX_CHANNELS; n++) {
        char want[32];
        snprintf(want, sizeof want, "%s%d b%d\n", n > 1 ? "─ " : "  ", n, n);
        assert_says(text, want);
    }
    free(text);
    tc_rig_clear(&rig);
}

/* ---- CSV ---- */

/* RFC 4180: the same number of fields in each record; the text comes back
 * whole, but for what would disturb a terminal (ECMA-48 controls, direction marks
 * and what takes no room). A cell that a spreadsheet would run as a formula wears
 * an apostrophe. */
static void csv_reads_back(void **state)
{
    (void)state;
    static const struct { const char *name, *cell; } rows[] = {
        { "plain", "plain" }, { "a \"b\", c", "a \"b\", c" }, { "=1+1", "'=1+1" }, { "-x", "'-x" }, { "@x", "'@x" }, { "<b>", "<b>" },
        { "\xE2\x80\xAEx", "?x" }, { "a\x1B\x07z", "a??z" }, { "a\xE2\x80\x8Bz", "a?z" }, { "a\xEF\xBB\xBFz", "a?z" },
    };
    char file[1000];
    for (size_t i = 0; i < COUNT(rows); i++) {
        snprintf(file, sizeof file,
                 CIRCUIT "[channel 3]\nname = %s\nkind = branch\nwatts = 1200.5\ncircuit = a\ncord_awg = 16\n"
                         "cord_length_ft = 100\n"
                 "[channel 8]\nname = tip\nkind = branch\nparent = 3\nwatts = 5\ncircuit = a\n", rows[i].name);
        struct tc_rig rig = rig_of(file);
        char *text = NULL;
        size_t size = 0;
        FILE *io = open_memstream(&text, &size);
        assert_non_null(io);
        rig_sheet_csv(io, &rig);
        fclose(io);
        struct csv *csv = csv_open(text, size);
        assert_non_null(csv);
        assert_int_equal(csv_next(csv), CSV_ROW);
        size_t fields = csv_count(csv), drop = 0, parent = 0;
        assert_string_equal(csv_get(csv, 0), "channel");
        assert_string_equal(csv_get(csv, fields - 1), "findings");
        for (size_t f = 0; f < fields; f++) {
            if (!strcmp(csv_get(csv, f), "cord_drop_percent")) drop = f;
            if (!strcmp(csv_get(csv, f), "parent")) parent = f;
        }
        assert_int_equal(csv_next(csv), CSV_ROW);
        assert_int_equal(csv_count(csv), fields);
        assert_string_equal(csv_get(csv, 0), "3");
        assert_string_equal(csv_get(csv, 1), rows[i].cell);
        assert_string_equal(csv_get(csv, 6), "1200.5");
        assert_string_equal(csv_get(csv, drop), "8.32");
        assert_says(csv_get(csv, fields - 1), "its cord loses 9.98 V");
        assert_int_equal(csv_next(csv), CSV_ROW);
        assert_int_equal(csv_count(csv), fields);
        assert_string_equal(csv_get(csv, parent), "3");
        assert_string_equal(csv_get(csv, fields - 1), "");
        assert_int_equal(csv_next(csv), CSV_END);
        csv_close(csv);
        /* every line ends in CR LF */
        for (size_t k = 0; k < size; k++)
            if (text[k] == '\n') assert_true(k > 0 && text[k - 1] == '\r');
        free(text);
        tc_rig_clear(&rig);
    }
}

/* ---- Rig files to start from ---- */

static void example_reads_back_and_shows_every_key(void **state)
{
    (void)state;
    static const char *const keys[] = {
        "name", "mains_volts", "mains_hz", "breaker_amps", "volts", "kind", "parent", "watts", "lumens", "circuit",
        "curve",
        "min_level", "max_level", "lamp", "rise_ms", "fall_ms", "lead_ms", "group", "max_amps", "cord_length_ft",
        "cord_awg",
        "first", "last", "span_ft", "sag_ft", "centre_lb", "uniform_lb_per_ft", "breaking_lb", "knot", "design_factor",
    };
    FILE *out = fopen(scratch_at("t.rig"), "wb");
    assert_non_null(out);
    rig_new_example(stream_sink(out));
    fclose(out);
    struct tc_rig rig = rig_from(scratch_at("t.rig"));
    assert_int_equal(rig_findings(&rig, NULL, NULL), 0);
    assert_true(rig.overhead.given && rig.bank_count && rig.group_count);
    tc_rig_clear(&rig);
    char *text = scratch_read(scratch_at("t.rig"), NULL);
    for (size_t i = 0; i < COUNT(keys); i++) {
        char line[40];
        snprintf(line, sizeof line, "\n%s =", keys[i]);
        assert_says(text, line);
    }
    free(text);
}

static void check_new_rig(int branches, int floods, int channels)
{
    struct rig_plan plan = { branches, floods, channels };
    FILE *out = fopen(scratch_at("t.rig"), "wb");
    assert_non_null(out);
    assert_int_equal(rig_new_write(stream_sink(out), &plan, NULL), TC_OK);
    fclose(out);
    struct tc_rig rig = rig_from(scratch_at("t.rig"));
    char *text = scratch_read(scratch_at("t.rig"), NULL);
    double watts = 0, circuit_watts[TC_MAX_CHANNELS] = { 0 };
    size_t roots = 0, strings = 0, most = channels ? (size_t)channels : TC_MAX_CHANNELS;
    assert_true(rig.channel_count <= most);
    /* none idle while lamps share */
    size_t lamps = (size_t)branches + (size_t)floods;
    bool share = rig.channel_count < lamps;
    assert_int_equal(strstr(text, "share") != NULL, share);
    if (branches && floods) assert_int_equal(rig.channel_count, lamps < most ? lamps : most);
    for (size_t i = 0; i < rig.channel_count; i++) {
        const struct tc_channel *c = &rig.channels[i];
        assert_int_equal(c->number, i + 1);
        watts += c->watts;
        circuit_watts[c->circuit] += c->watts;
        roots += c->kind == TC_BRANCH && c->parent < 0;
        strings += c->kind == TC_BRANCH;
        assert_true(c->parent < (int)i); /* numbered from the root on */
        for (size_t k = 0; k < i; k++) assert_string_not_equal(c->name, rig.channels[k].name);
    }
    assert_near(watts, 5 * branches + 15 * floods, 1e-9);
    assert_int_equal(roots, branches > 0);
    assert_true(!branches || strings);
    assert_true(!floods || rig.channel_count > strings);
    for (size_t i = 0; i < rig.circuit_count; i++) {
        size_t fed = 0;
        for (size_t k = 0; k < rig.channel_count; k++) fed += rig.channels[k].circuit == (int)i;
        assert_true(fed >= 1 && (fed == 1 || circuit_watts[i] <= 720)); /* half of 1440 W */
    }
    free(text);
    tc_rig_clear(&rig);
}

static void new_rigs_read_back(void **state)
{
    (void)state;
    static const int branches[] = { 0, 1, 2, 3, 4, 5, 6, 12, 13, 40, 511, 512, 1000 };
    static const int floods[] = { 0, 1, 2, 3, 4, 30, 1000 };
    static const int channels[] = { 0, 1, 2, 3, 4, 5, 8, 16, 48, 512 };
    for (size_t n = 0; n < COUNT(branches); n++)
        for (size_t m = 0; m < COUNT(floods); m++)
            for (size_t c = 0; c < COUNT(channels); c++) {
                bool none = !branches[n] && !floods[m];
                bool both_on_one = branches[n] && floods[m] && channels[c] == 1;
                if (!none && !both_on_one) check_new_rig(branches[n], floods[m], channels[c]);
            }
}

static void impossible_plans_are_refused(void **state)
{
    (void)state;
    static const struct { struct rig_plan plan; const char *want; } rows[] = {
        { { 0, 0, 0 }, "a new rig needs at least one branch or flood" },
        { { -1, 1, 0 }, "a new rig has 0 to 1000 branches and 0 to 1000 floods" },
        { { 1, 1001, 0 }, "a new rig has 0 to 1000 branches and 0 to 1000 floods" },
        { { 1, 1, 513 }, "a rig has 1 to 512 channels" },
        { { 1, 1, -2 }, "a rig has 1 to 512 channels" },
        { { 3, 2, 1 }, "one channel can't carry both branches and floods: give it at least 2" },
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        struct tc_problem why = { "" };
        char *text = NULL;
        size_t size = 0;
        FILE *out = open_memstream(&text, &size);
        assert_non_null(out);
        assert_int_equal(rig_new_write(stream_sink(out), &rows[i].plan, &why), TC_ERR_USAGE);
        fclose(out);
        assert_string_equal(why.text, rows[i].want);
        assert_int_equal(size, 0);
        free(text);
    }
}

/* With room for 16 the mill pond's numbers come out: 12 and 4, a trunk of 4. */
static void new_rig_for_16_channels(void **state)
{
    (void)state;
    struct rig_plan plan = { 12, 4, 16 };
    FILE *out = fopen(scratch_at("t.rig"), "wb");
    assert_non_null(out);
    assert_int_equal(rig_new_write(stream_sink(out), &plan, NULL), TC_OK);
    fclose(out);
    struct tc_rig rig = rig_from(scratch_at("t.rig"));
    static const int parents[] = { -1, 0, 1, 2, 0, 4, 1, 6, 7, 2, 9, 0, -1, -1, -1, -1 };
    assert_int_equal(rig.channel_count, 16);
    for (size_t i = 0; i < 16; i++) {
        assert_int_equal(rig.channels[i].kind, i < 12 ? TC_BRANCH : TC_FLOOD);
        assert_int_equal(rig.channels[i].parent, parents[i]);
    }
    assert_string_equal(rig.channels[3].name, "trunk tip");
    assert_string_equal(rig.channels[5].name, "left fork 1 tip");
    tc_rig_clear(&rig);
}

/* ---- Samples ---- */

static void samples_have_no_findings(void **state)
{
    (void)state;
    static const struct { const char *file; size_t channels; } rows[] = {
        { "samples/mill-pond.rig", 16 }, { "samples/backyard.rig", 4 }, { "samples/three-bolts.rig", 38 },
    };
    if (access("samples", R_OK)) {
        print_message("skipped: not run from the checkout's top folder\n");
        skip();
    }
    for (size_t i = 0; i < COUNT(rows); i++) {
        struct tc_rig rig = rig_from(rows[i].file);
        assert_int_equal(rig.channel_count, rows[i].channels);
        assert_int_equal(rig_findings(&rig, NULL, NULL), 0);
        char *text = sheet_of(&rig, NULL);
        assert_silent(text, " \n");
        free(text);
        tc_rig_clear(&rig);
    }
}

/* ---- Cautions ---- */

static void cautions_are_short_and_wrap(void **state)
{
    (void)state;
    for (int i = 0; i < CAUTION_COUNT; i++) {
        const char *caution = caution_text((enum caution)i);
        assert_true(strlen(caution) > 40 && strlen(caution) < 400);
        assert_null(strchr(caution, '\n'));
        char *text = NULL;
        size_t size = 0;
        FILE *out = open_memstream(&text, &size);
        assert_non_null(out);
        caution_wrap(out, caution, "  ! ", "    ", 60);
        fclose(out);
        size_t words = 0;
        for (char *line = strtok(text, "\n"); line; line = strtok(NULL, "\n")) {
            assert_true(text_columns(line) <= 60);
            for (char *c = line + 4; *c; c++) words += *c != ' ';
        }
        for (const char *c = caution; *c; c++) words -= *c != ' ';
        assert_int_equal(words, 0); /* nothing is lost */
        free(text);
    }
    assert_string_equal(caution_text((enum caution)CAUTION_COUNT), "");
    assert_says(visitor_notice(), "FLASHING LIGHT");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sheet_of_the_built_in_rig),
        cmocka_unit_test(findings_begin_above_the_limit),
        cmocka_unit_test(rounding_is_no_finding),
        cmocka_unit_test(sheet_shows_its_sums),
        cmocka_unit_test(tables_line_up),
        cmocka_unit_test(deepest_tree_is_drawn),
        cmocka_unit_test(csv_reads_back),
        cmocka_unit_test(example_reads_back_and_shows_every_key),
        cmocka_unit_test(new_rigs_read_back),
        cmocka_unit_test(impossible_plans_are_refused),
        cmocka_unit_test(new_rig_for_16_channels),
        cmocka_unit_test(samples_have_no_findings),
        cmocka_unit_test(cautions_are_short_and_wrap),
    };
    return cmocka_run_group_tests(tests, scratch_set_up, scratch_tear_down);
}
