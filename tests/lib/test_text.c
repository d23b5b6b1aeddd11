/* Text in and out: numbers the same in every country, CSV by RFC 4180. */
#include "check.h"

#include <limits.h>
#include <stdio.h>

#include "words/csv.h"
#include "words/numbers.h"
#include "words/random.h"
#include "words/sink.h"
#include "words/text.h"

/* ---- Numbers ---- */

static void fixed_numbers_are_written_digit_by_digit(void **state)
{
    (void)state;
    static const struct { int64_t value; int decimals; const char *want; } rows[] = {
        { 0, 0, "0" },          { 0, 1, "0.0" },        { 0, 3, "0.000" },       { 7, 3, "0.007" },
        { -7, 3, "-0.007" },    { 1000, 1, "100.0" },   { 999, 1, "99.9" },      { 255, 0, "255" },
        { 1234567, 3, "1234.567" }, { -1, 0, "-1" },    { -10, 1, "-1.0" },      { 36000000, 3, "36000.000" },
        { INT64_MAX, 0, "9223372036854775807" }, { INT64_MIN, 3, "-9223372036854775.808" },
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        char to[32] = { 0 };
        *number_fixed(to, rows[i].value, rows[i].decimals) = 0;
        assert_string_equal(to, rows[i].want);
    }
}

/* The C library's own printf is the outside check. */
static void fixed_numbers_agree_with_the_c_library(void **state)
{
    (void)state;
    for (int64_t v = -3000; v <= 3000; v++) {
        char got[32] = { 0 }, want[32];
        *number_fixed(got, v, 3) = 0;
        snprintf(want, sizeof want, "%s%lld.%03lld", v < 0 ? "-" : "", (long long)llabs(v) / 1000,
                 (long long)llabs(v) % 1000);
        assert_string_equal(got, want);
    }
}

static void only_plain_decimal_numbers_are_read(void **state)
{
    (void)state;
    static const struct { const char *cell; bool ok; double want; } good[] = {
        { "0", true, 0 },       { "12", true, 12 },     { "-3.5", true, -3.5 },  { "1e3", true, 1000 },
        { "+2", true, 2 },      { ".5", true, 0.5 },    { "5.", true, 5 },       { "0.1", true, 0.1 },
        { "", false, 0 },       { " 1", false, 0 },     { "1 ", false, 0 },      { "1,5", false, 0 },
        { "0x10", false, 0 },   { "inf", false, 0 },    { "nan", false, 0 },     { "1e999", false, 0 },
        { "--1", false, 0 },    { "1.2.3", false, 0 },  { "e", false, 0 },       { "-", false, 0 },
        { "1e", false, 0 },     { "\xD9\xA1", false, 0 }, { "1_000", false, 0 }, { "1'000", false, 0 },
    };
    for (size_t i = 0; i < COUNT(good); i++) {
        double v = -1;
        if (number_read(good[i].cell, &v) != good[i].ok) fail_msg("'%s'", good[i].cell);
        if (good[i].ok) assert_near(v, good[i].want, 0);
    }
    static const struct { const char *cell; bool ok; int64_t want; } whole[] = {
        { "0", true, 0 }, { "-12", true, -12 }, { "+9", true, 9 }, { "9223372036854775807", true, INT64_MAX },
        { "9223372036854775808", false, 0 }, { "1.0", false, 0 }, { "", false, 0 }, { "1e3", false, 0 }, { "1-2", false, 0 },
    };
    for (size_t i = 0; i < COUNT(whole); i++) {
        int64_t v = -1;
        if (number_read_whole(whole[i].cell, &v) != whole[i].ok) fail_msg("'%s'", whole[i].cell);
        if (whole[i].ok) assert_true(v == whole[i].want);
    }
}

static void same_as_strtod(const char *cell)
{
    double got = -1, want = strtod(cell, NULL);
    if (isinf(want)) {
        if (number_read(cell, &got)) fail_msg("'%s' is no finite number", cell);
        return;
    }
    if (!number_read(cell, &got) || memcmp(&got, &want, sizeof got))
        fail_msg("'%s' gives %.17g, strtod %.17g", cell, got, want);
}

/* The C library's strtod, in the C locale, rounds correctly. */
static void numbers_are_those_of_the_c_library(void **state)
{
    (void)state;
    static const char *const hard[] = {
        "0", "-0", "0.000", "9007199254740993", "9007199254740992.5", "0.1", "0.30000000000000004", "1e22", "1e23",
        "1e-22", "1e-23",
        "2.2250738585072014e-308", "2.2250738585072011e-308", "4.9e-324", "2.4703282292062327e-324",
        "2.4703282292062328e-324",
        "1.7976931348623157e308", "1.7976931348623158e308", "1.7976931348623159e308", "1e400", "1e-400", "1e99999",
        "1e-99999",
        "179769313486231580793728971405303415079934132710037826936173778980444968292764750946649017977587207096330286416692",
        "0.00000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000000001",
        "8.5", "1.00000000000000011102230246251565404", "1.00000000000000011102230246251565405",
    };
    for (size_t i = 0; i < COUNT(hard); i++)
        if (strlen(hard[i]) < 100 || strchr(hard[i], '.')) same_as_strtod(hard[i]);
    struct randomiser r = random_keyed(7, 0, 0);
    for (int round = 0; round < 300000; round++) {
        char cell[80];
        int digits = 1 + (int)random_below(&r, round % 3 ? 9 : 30), used = 0;
        if (random_below(&r, 4) == 0) cell[used++] = random_below(&r, 2) ? '-' : '+';
        int point = (int)random_below(&r, (uint32_t)digits + 1);
        for (int i = 0; i < digits; i++) {
            if (i == point) cell[used++] = '.';
            cell[used++] = (char)('0' + random_below(&r, 10));
        }
        if (random_below(&r, 3) == 0)
            used += sprintf(cell + used, "e%d", (int)random_below(&r, round % 2 ? 660 : 40) - (round % 2 ? 330 : 20));
        cell[used] = 0;
        same_as_strtod(cell);
    }
    /* with many more digits than it takes */
    for (int round = 0; round < 20000; round++) {
        char cell[120];
        snprintf(cell, sizeof cell, "%.90g",
                 ldexp(1 + (double)random_below(&r, UINT32_MAX) / 4294967296.0, (int)random_below(&r, 60) - 30));
        same_as_strtod(cell);
    }
}

static void a_comma_may_stand_for_the_point(void **state)
{
    (void)state;
    double v = 0;
    assert_true(number_read_with("1,5", ',', &v));
    assert_near(v, 1.5, 0);
    assert_true(number_read_with("1.5", ',', &v));
    assert_near(v, 1.5, 0);
    assert_false(number_read_with("1.000,5", ',', &v));
    assert_false(number_read_with(",", ',', &v));
}

/* ---- CSV out ---- */

static enum tc_status append(void *to, const char *bytes, size_t size)
{
    char **end = to;
    memcpy(*end, bytes, size);
    *end += size;
    return TC_OK;
}

static char *written(const char *cell, bool guard)
{
    static char text[256];
    memset(text, 0, sizeof text);
    struct writer w;
    char *end = text;
    writer_begin(&w, (struct tc_sink){ append, &end });
    writer_cell(&w, cell, guard);
    assert_int_equal(writer_end(&w), TC_OK);
    return text;
}

/* RFC 4180, 2.5 to 2.7: cells with line breaks, quotes or commas are quoted, a
 * quote within is doubled; spaces are part of the cell (2.4). The rows with an
 * apostrophe are ours: a spreadsheet would run the cell as a formula. */
static void cells_are_quoted_where_the_standard_asks_for_it(void **state)
{
    (void)state;
    static const struct { const char *cell; bool guard; const char *want; } rows[] = {
        { "aaa", false, "aaa" },                    { "", false, "" },
        { " a b ", false, " a b " },                { "a,b", false, "\"a,b\"" },
        { "b\r\nbb", false, "\"b\r\nbb\"" },        { "b\"bb", false, "\"b\"\"bb\"" },
        { "\"", false, "\"\"\"\"" },                { "a\nb", false, "\"a\nb\"" },
        { "=1+1", false, "=1+1" },                  { "=1+1", true, "'=1+1" },
        { "+49", true, "'+49" },                    { "-left", true, "'-left" },
        { "@now", true, "'@now" },                  { "\tx", true, "'\tx" },
        { "\rx", true, "\"'\rx\"" },                { "=A1,B1", true, "\"'=A1,B1\"" },
        { "=\"x\"", true, "\"'=\"\"x\"\"\"" },      { "a=b", true, "a=b" },
        { "trunk top", true, "trunk top" },         { "'quoted'", true, "'quoted'" },
    };
    for (size_t i = 0; i < COUNT(rows); i++) assert_string_equal(written(rows[i].cell, rows[i].guard), rows[i].want);
}

/* ---- CSV in ---- */

/* What was written guarded is read as it was; an apostrophe of the cell's own stays. */
static void guarded_cells_come_back(void **state)
{
    (void)state;
    static const char *const cells[] = { "aaa", "=1+1", "+49", "-left", "@now", "\tx", "\rx", "=A1,B1", "=\"x\"", "a=b", "'", "'quoted'" };
    for (size_t i = 0; i < COUNT(cells); i++) {
        char text[300];
        int size = snprintf(text, sizeof text, "sep=,\r\n%s\r\n", written(cells[i], true));
        struct csv *c = csv_open(text, (size_t)size);
        assert_non_null(c);
        assert_int_equal(csv_next(c), CSV_ROW);
        assert_int_equal(csv_count(c), 1);
        assert_string_equal(csv_unguarded(csv_get(c, 0)), cells[i]);
        csv_close(c);
    }
}

/* The rows of a text, cells divided by '|', rows by '/', ended by what was wrong. */
static const char *read_back(const char *text, size_t size)
{
    static char got[512];
    got[0] = 0;
    struct csv *c = csv_open(text, size);
    assert_non_null(c);
    enum csv_result r;
    while ((r = csv_next(c)) == CSV_ROW) {
        for (size_t i = 0; i < csv_count(c); i++) {
            if (i) strcat(got, "|");
            strcat(got, csv_get(c, i));
        }
        strcat(got, "/");
    }
    if (r != CSV_END) sprintf(got + strlen(got), "!%ld %s", csv_line(c), csv_result_text(r));
    csv_close(c);
    return got;
}

/* The first seven rows are the examples of RFC 4180, section 2. */
static void what_the_standard_shows_is_read(void **state)
{
    (void)state;
    static const struct { const char *text, *want; } rows[] = {
        { "aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n", "aaa|bbb|ccc/zzz|yyy|xxx/" },
        { "aaa,bbb,ccc\r\nzzz,yyy,xxx", "aaa|bbb|ccc/zzz|yyy|xxx/" },
        { "field_name,field_name,field_name\r\naaa,bbb,ccc\r\n", "field_name|field_name|field_name/aaa|bbb|ccc/" },
        { "aaa,bbb,ccc", "aaa|bbb|ccc/" },
        { "\"aaa\",\"bbb\",\"ccc\"\r\nzzz,yyy,xxx", "aaa|bbb|ccc/zzz|yyy|xxx/" },
        { "\"aaa\",\"b\r\nbb\",\"ccc\"\r\nzzz,yyy,xxx", "aaa|b\r\nbb|ccc/zzz|yyy|xxx/" },
        { "\"aaa\",\"b\"\"bb\",\"ccc\"", "aaa|b\"bb|ccc/" },
        { "a,b\nc,d\n", "a|b/c|d/" },                           /* bare LF */
        { "\xEF\xBB\xBFkind,start_s\n", "kind|start_s/" },      /* byte order mark */
        { "a\r\n\r\n\nb\r\n", "a/b/" },                         /* blank lines */
        { "x,,\r\n,,y", "x||/||y/" },                           /* empty cells */
        { "a,b\r\n,\r\n , \r\nc,d\r\n,\r\n,", "a|b/c|d/" },     /* rows without anything, as spreadsheets leave */
        { "\"\",x\n", "|x/" },
        { " a , b \n", " a | b /" },                            /* spaces are data */
        { "a,b\rc,d\r\re,f", "a|b/c|d/e|f/" },                  /* lines that end with CR alone */
        { "a;b\n1,5;2\n", "a|b/1,5|2/" },                      /* semicolons, found from the first row */
        { "a\tb;c\n1,5\t2;3\n", "a|b;c/1,5|2;3/" },            /* tabs */
        { "\"a;b\",c;d\n1,2;3\n", "a;b|c;d/1|2;3/" },          /* what is quoted doesn't count */
        { "\n\na;b\n", "a|b/" },
        { "sep=;\r\na,x;b\r\n1;2\r\n", "a,x|b/1|2/" },       /* as spreadsheets write it */
        { "\xEF\xBB\xBFsep=\t\na;x\tb\n", "a;x|b/" },
        { "\"sep=;\"\na;b\n", "a|b/" },
        { "sep=;;\na;b\n", "a|b/" },
        { "sep=x\na,b\n", "sep=x/a|b/" },                      /* none that is known */
        { "sep=,1\na,b\n", "sep=|1/a|b/" },
        { "a\"b,c\n", "a\"b|c/" },                              /* a quote within a bare cell */
        { "\"abc", "!1 a quoted cell that does not end with its quote" },
        { "a\n\"b\nc", "a/!2 a quoted cell that does not end with its quote" },
        { "\"a\"b,c\n", "!1 a quoted cell that does not end with its quote" },
    };
    for (size_t i = 0; i < COUNT(rows); i++)
        assert_string_equal(read_back(rows[i].text, strlen(rows[i].text)), rows[i].want);
    assert_string_equal(read_back("a\0b\n", 4), "!1 a zero byte: this is not plain text; save it as CSV in UTF-8");
}

static void numbers_may_have_a_decimal_comma(void **state)
{
    (void)state;
    static const struct { const char *text; bool ok; double want; } rows[] = {
        { "a;b\n1,5;2", true, 1.5 }, { "a;b\n1.5;2", true, 1.5 }, { "a\tb\n 1,5 \t2", true, 1.5 },
        { "a,b\n\"1,5\",2", true, 1.5 }, { "a;b\n1.000,5;2", false, 0 }, { "a,b\n 1.5 ,2", true, 1.5 },
        { "a,b\n\"1,000.5\",2", false, 0 }, { "a,b\n\"1,000,5\",2", false, 0 },
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        struct csv *c = csv_open(rows[i].text, strlen(rows[i].text));
        double v = 0;
        assert_non_null(c);
        assert_int_equal(csv_next(c), CSV_ROW);
        assert_int_equal(csv_next(c), CSV_ROW);
        assert_int_equal(csv_number(c, 0, &v), rows[i].ok);
        if (rows[i].ok) assert_near(v, rows[i].want, 0);
        csv_close(c);
    }
}

/* The line of a row counts the lines of quoted cells before it, whatever ends them. */
static void rows_know_their_line(void **state)
{
    (void)state;
    static const char *const texts[] = {
        "a,b\n\"x\ny\nz\",1\n\nlast,2\n", "a,b\r\n\"x\r\ny\r\nz\",1\r\n\r\nlast,2\r\n",
        "a,b\r\"x\ry\rz\",1\r\rlast,2\r",
    };
    for (size_t i = 0; i < COUNT(texts); i++) {
        struct csv *c = csv_open(texts[i], strlen(texts[i]));
        assert_non_null(c);
        for (int row = 0; row < 3; row++) assert_int_equal(csv_next(c), CSV_ROW);
        assert_string_equal(csv_get(c, 0), "last");
        assert_int_equal(csv_line(c), 6);
        csv_close(c);
    }
}

struct pieces {
    const char *text;
    size_t size, most;       /* and how much is there in truth */
    int readings;
};

static size_t read_piece(void *user, int64_t at, char *to, size_t room)
{
    struct pieces *p = user;
    size_t n = (size_t)at >= p->most ? 0 : p->most - (size_t)at;
    if (n > room) n = room;
    memcpy(to, p->text + at, n);
    p->readings++;
    return n;
}

/* Eleven megabytes in rows of all lengths up to 600 KB, with quotes, commas and
 * line ends in their cells: in pieces as in one. */
static void a_long_text_is_read_in_pieces(void **state)
{
    (void)state;
    enum { SIZE = 11 << 20 };
    char *text = malloc(SIZE + 8);
    size_t used = 0;
    uint64_t seed = 7;
    assert_non_null(text);
    for (int row = 0; used < SIZE - 700000; row++) {
        size_t length = row % 40 == 7 ? 600000 : 20 + (size_t)(row % 300);
        bool quoted = row % 3 == 0;
        used += (size_t)sprintf(text + used, "%d,%s", row, quoted ? "\"" : "");
        for (size_t i = 0; i < length; i++) {
            seed = seed * 6364136223846793005u + 1442695040888963407u;
            int kind = (int)(seed >> 60);
            const char *piece = !quoted ? "x" : kind == 0 ? "\"\"" : kind == 1 ? "," : kind == 2 ? "\r\n" : "y";
            while (*piece) text[used++] = *piece++;
        }
        used += (size_t)sprintf(text + used, "%s%s", quoted ? "\"" : "", row % 5 ? "\n" : "\r\n\r\n");
    }
    struct pieces p = { .text = text, .size = used, .most = used };
    struct csv *whole = csv_open(text, used);
    struct csv *parts = csv_open_text(&(struct csv_text){ .read = read_piece, .user = &p, .size = (int64_t)used });
    int rows = 0;
    assert_true(whole && parts);
    for (enum csv_result r = CSV_ROW; r == CSV_ROW; rows++) {
        r = csv_next(whole);
        assert_int_equal(csv_next(parts), r);
        assert_int_equal(csv_count(parts), csv_count(whole));
        assert_int_equal(csv_line(parts), csv_line(whole));
        assert_near(csv_share(parts), csv_share(whole), 1e-12);
        for (size_t i = 0; i < csv_count(whole); i++) assert_string_equal(csv_get(parts, i), csv_get(whole, i));
    }
    assert_true(rows > 500 && p.readings > 2);
    csv_close(whole);
    csv_close(parts);

    /* one that is cut off meanwhile ends where it ends */
    struct pieces cut = { .text = text, .size = used, .most = 5 << 20 };
    struct csv *c = csv_open_text(&(struct csv_text){ .read = read_piece, .user = &cut, .size = (int64_t)used });
    assert_non_null(c);
    while (csv_next(c) == CSV_ROW) continue;
    assert_int_not_equal(csv_next(c), CSV_ROW);
    csv_close(c);

    /* a row without end is told from one that ends with its piece */
    memset(text, 'x', used);
    struct pieces wide = { .text = text, .size = used, .most = used };
    c = csv_open_text(&(struct csv_text){ .read = read_piece, .user = &wide, .size = (int64_t)used });
    assert_non_null(c);
    assert_int_equal(csv_next(c), CSV_TOO_LONG);
    csv_close(c);
    free(text);
}

static void every_cell_reads_back_as_it_was_written(void **state)
{
    (void)state;
    static const char *const parts[] = { "", "a", ",", "\"", "\r\n", "\n", " ", "\"\"", "\xC3\xA9", "x\"y" };
    for (size_t i = 0; i < COUNT(parts); i++)
        for (size_t j = 0; j < COUNT(parts); j++)
            for (size_t k = 0; k < COUNT(parts); k++) {
                char cell[32], line[300], want[64];
                snprintf(cell, sizeof cell, "%s%s%s", parts[i], parts[j], parts[k]);
                snprintf(line, sizeof line, "x,%s,y\r\n", written(cell, false));
                snprintf(want, sizeof want, "x|%s|y/", cell);
                assert_string_equal(read_back(line, strlen(line)), want);
            }
}

static void rows_beyond_all_bounds_are_refused(void **state)
{
    (void)state;
    size_t size = 3u << 20;
    char *text = calloc(size, 1);
    assert_non_null(text);
    memset(text, 'x', size - 1);
    assert_string_equal(read_back(text, size - 1), "!1 a row that is too long");
    memset(text, ',', size - 1);
    assert_string_equal(read_back(text, size - 1), "!1 a row that is too long");
    free(text);
}

/* ---- For people ---- */

/* The broken sequences are those of the Unicode Standard, table 3-7. */
static void names_cannot_disturb_a_terminal(void **state)
{
    (void)state;
    static const struct { const char *name, *want; } rows[] = {
        { "mill pond.wav", "mill pond.wav" },   { "a\nb", "a?b" },          { "\x1B[31mred", "?[31mred" },
        { "\x7F", "?" },                        { "gr\xC3\xBCn", "gr\xC3\xBCn" }, { "\xFF\xFE", "??" },
        { "\xC0\xAF", "??" },                   { "\xE0\x80\xAF", "???" },  { "\xED\xA0\x80", "???" },
        { "\xF4\x90\x80\x80", "????" },         { "\xC3", "?" },            { "\xC2\x9B", "?" },
        { "a\xE2\x80\x8B" "b", "a?b" }, { "a\xEF\xBB\xBF" "b", "a?b" }, { "a\xE2\x81\xA0" "b", "a?b" },
        { "a\xE2\x80\xAE" "b", "a?b" }, { "a\xD8\x9C" "b", "a?b" },         { "\xE2\x9A\xA1", "\xE2\x9A\xA1" }, { "", "" },
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        char to[64];
        assert_string_equal(text_plain(to, sizeof to, rows[i].name), rows[i].want);
    }
    char small[8];
    assert_string_equal(text_plain(small, sizeof small, "abcdefghijk"), "abcd...");
    for (size_t size = 8; size < 40; size++) { /* never beyond the buffer, never half a character */
        char to[64];
        memset(to, 'Z', sizeof to);
        text_plain(to, size,
            "\xC3\xA9\xC3\xA9\xC3\xA9\xE2\x9A\xA1\xE2\x9A\xA1\xF0\x9F\x8C\xA9\xF0\x9F\x8C\xA9\n\n"
            "\xC3\xA9\xC3\xA9\xC3\xA9");
        assert_true(strlen(to) < size);
        assert_int_equal(to[size], 'Z');
    }
}

static void the_same_words_are_the_same_in_any_case(void **state)
{
    (void)state;
    assert_true(text_same("Crack", "cRACK"));
    assert_true(text_same("", ""));
    assert_false(text_same("crack", "cracks"));
    assert_false(text_same("[", "{")); /* they differ by the same bit as cases do */
}

/* RFC 3629, section 4 and its examples; overlong forms, surrogates and what is
 * beyond U+10FFFF are no UTF-8. */
static void utf8_is_told_from_other_bytes(void **state)
{
    (void)state;
    static const struct { const char *text; bool fine; } rows[] = {
        { "", true }, { "plain", true }, { "A\xE2\x89\xA2\xCE\x91.", true }, { "\xED\x95\x9C\xEA\xB5\xAD\xEC\x96\xB4", true },
        { "\xF0\xA3\x8E\xB4", true }, { "\xF4\x8F\xBF\xBF", true }, { "\xF4\x90\x80\x80", false }, { "\xC0\x80", false },
        { "\xE0\x80\xAF", false }, { "\xED\xA0\x80", false }, { "\x80", false }, { "a\xC3", false }, { "caf\xE9", false }, { "\xFF\xFE", false },
    };
    for (size_t i = 0; i < COUNT(rows); i++) assert_int_equal(text_utf8(rows[i].text), rows[i].fine);
}

/* Edit distance (Levenshtein 1966; kitten and sitting are the textbook pair). */
static void near_words_are_near(void **state)
{
    (void)state;
    static const struct { const char *a, *b; size_t edits; } rows[] = {
        { "", "", 0 }, { "", "abc", 3 }, { "abc", "", 3 }, { "kitten", "sitting", 3 }, { "watts", "wats", 1 }, { "flaw", "lawn", 2 },
        { "channel", "chanel", 1 }, { "0123456789012345678901234567890123", "a", 32 }, { "a", "0123456789012345678901234567890123", 32 },
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        assert_int_equal(text_distance(rows[i].a, rows[i].b), rows[i].edits);
        assert_int_equal(text_distance(rows[i].b, rows[i].a), rows[i].edits);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(fixed_numbers_are_written_digit_by_digit),
        cmocka_unit_test(fixed_numbers_agree_with_the_c_library),
        cmocka_unit_test(only_plain_decimal_numbers_are_read),
        cmocka_unit_test(numbers_are_those_of_the_c_library),
        cmocka_unit_test(a_comma_may_stand_for_the_point),
        cmocka_unit_test(cells_are_quoted_where_the_standard_asks_for_it),
        cmocka_unit_test(guarded_cells_come_back),
        cmocka_unit_test(what_the_standard_shows_is_read),
        cmocka_unit_test(numbers_may_have_a_decimal_comma),
        cmocka_unit_test(rows_know_their_line),
        cmocka_unit_test(a_long_text_is_read_in_pieces),
        cmocka_unit_test(every_cell_reads_back_as_it_was_written),
        cmocka_unit_test(rows_beyond_all_bounds_are_refused),
        cmocka_unit_test(names_cannot_disturb_a_terminal),
        cmocka_unit_test(the_same_words_are_the_same_in_any_case),
        cmocka_unit_test(utf8_is_told_from_other_bytes),
        cmocka_unit_test(near_words_are_near),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
