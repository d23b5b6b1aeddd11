/* The built-in rig, and rig files: what they may say, what they must not, and
 * that nothing in them is lost, cut or crashes. The form is the project's own;
 * its conventions are those that INI files mostly have. */
#include "check.h"
#include "rigs.h"
#include <stdio.h>

#include "rig/rig_slots.h"
#include "rig/rig_text.h"
#include "thundercue.h"
#include "words/random.h"
#include "words/text.h"

/* ---- Allocations that fail ---- */

static int allocations_left = -1; /* -1 = all succeed */

void *__real_calloc(size_t count, size_t size);
void *__wrap_calloc(size_t count, size_t size);
void *__real_realloc(void *old, size_t size);
void *__wrap_realloc(void *old, size_t size);

static bool allocation_fails(void)
{
    if (allocations_left < 0) return false;
    return allocations_left-- == 0;
}

void *__wrap_calloc(size_t count, size_t size)
{
    return allocation_fails() ? NULL : __real_calloc(count, size);
}

void *__wrap_realloc(void *old, size_t size)
{
    return allocation_fails() ? NULL : __real_realloc(old, size);
}

/* ---- Helpers ---- */

static const char path[] = "/a/folder/t.rig"; /* as it is shown */

static enum tc_status read_text(const char *text, struct tc_rig *rig, struct tc_problem *why)
{
    *why = (struct tc_problem){ "" };
    return tc_rig_read(text, strlen(text), path, rig, why);
}

/* Reads a text that must be fine. */
static struct tc_rig good(const char *text)
{
    struct tc_rig rig;
    struct tc_problem why;
    if (read_text(text, &rig, &why) != TC_OK) fail_msg("%s", why.text);
    return rig;
}

/* What every rig promises, however it came to be. */
static void check_promises(const struct tc_rig *rig)
{
    assert_true(rig->channel_count >= 1 && rig->channel_count <= TC_MAX_CHANNELS);
    assert_true(rig->mains_volts > 0 && rig->mains_hz > 0 && *rig->name);
    for (size_t i = 0; i < rig->channel_count; i++) {
        const struct tc_channel *c = &rig->channels[i];
        assert_true(c->number >= 1 && c->number <= TC_MAX_CHANNELS && *c->name);
        if (i) assert_true(c->number > rig->channels[i - 1].number);
        assert_true(c->kind == TC_BRANCH || c->kind == TC_FLOOD);
        assert_in_range((uintmax_t)c->circuit, 0, rig->circuit_count - 1);
        assert_true(c->group >= -1 && c->group < (int)rig->group_count);
        assert_true(c->watts > 0 && c->lumens >= 0 && c->min_level >= 0 && c->min_level < c->max_level
                    && c->max_level <= 100);
        assert_true(c->parent >= -1 && c->parent < (int)rig->channel_count);
        int at = c->parent;
        size_t steps = 0;
        for (; at >= 0; at = rig->channels[at].parent) {
            assert_int_equal(rig->channels[at].kind, TC_BRANCH);
            assert_true(++steps <= rig->channel_count);
        }
    }
    for (size_t i = 0; i < rig->circuit_count; i++)
        assert_true(rig->circuits[i].breaker_amps > 0 && rig->circuits[i].volts > 0);
}

/* ---- The built-in rig ---- */

static void built_in_rig_is_as_the_manual_says(void **state)
{
    (void)state;
    struct tc_rig rig;
    assert_int_equal(tc_rig_builtin(&rig), TC_OK);
    check_promises(&rig);
    assert_int_equal(rig.channel_count, 16);
    assert_int_equal(rig.circuit_count, 1);
    assert_near(rig.circuits[0].breaker_amps, 15, 0);
    assert_near(rig.circuits[0].volts, 120, 0);
    size_t forks = 0;
    for (size_t i = 0; i < 16; i++) {
        const struct tc_channel *c = &rig.channels[i];
        bool branch = i < 12;
        assert_int_equal(c->number, i + 1);
        assert_int_equal(c->kind, branch ? TC_BRANCH : TC_FLOOD);
        assert_near(c->watts, branch ? 5 : 15, 0);
        assert_int_equal(c->curve, TC_CURVE_LINEAR);
        assert_near(c->min_level, 0, 0);
        assert_near(c->max_level, 100, 0);
        assert_int_equal(c->parent >= 0, branch && i > 0); /* one root */
        size_t children = 0;
        for (size_t k = 0; k < 16; k++) children += rig.channels[k].parent == (int)i;
        forks += children > 1;
    }
    assert_true(forks >= 2);
    tc_rig_clear(&rig);
    tc_rig_clear(NULL);
}

/* ---- Good files ---- */

#define CIRCUIT "[circuit a]\nbreaker_amps = 15\n"
#define CHANNEL(n) "[channel " #n "]\nkind = branch\nwatts = 5\ncircuit = a\n"

static void presets_fill_what_is_left_out(void **state)
{
    (void)state;
    struct tc_rig rig = good(CIRCUIT CHANNEL(7));
    check_promises(&rig);
    const struct tc_channel *c = &rig.channels[0];
    assert_string_equal(rig.name, "t.rig");
    assert_near(rig.mains_volts, 120, 0);
    assert_near(rig.mains_hz, 60, 0);
    assert_near(rig.circuits[0].volts, 120, 0);
    assert_int_equal(c->number, 7);
    assert_string_equal(c->name, "channel 7");
    assert_int_equal(c->parent, -1);
    assert_int_equal(c->group, -1);
    assert_int_equal(c->curve, TC_CURVE_LINEAR);
    assert_int_equal(c->lamp, TC_LAMP_LED);
    assert_near(c->max_level, 100, 0);
    assert_false(rig.overhead.given);
    assert_int_equal(rig.bank_count, 0);
    tc_rig_clear(&rig);
}

static void every_key_arrives(void **state)
{
    (void)state;
    struct tc_rig rig = good(
        "[rig]\nname = Mill pond storm\nmains_volts = 230\nmains_hz = 50\n"
        "[circuit left]\nbreaker_amps = 16\n[circuit low]\nbreaker_amps = 4\nvolts = 24\n"
        "[channel 3]\nname = trunk\nkind = branch\nparent =\nwatts = 5.5\nlumens = 400\ncircuit = low\ncurve = square\n"
        "min_level = 12.5\nmax_level = 98\nlamp = incandescent\nrise_ms = 30\nfall_ms = 90\nlead_ms = 40\n"
        "group = bolt\n"
        "max_amps = 1.5\ncord_length_ft = 100\ncord_awg = 16\nx = 44.5\ny = 62\nstart_x = 41\nstart_y = 100\n"
        "[channel 1]\nname = tip\nkind = branch\nparent = 3\nwatts = 5\ncircuit = left\ncurve = lstar\n"
        "cord_length_m = 30\ngroup = bolt\nfork = 60\n"
        "[channel 9]\nkind = flood\nwatts = 15\ncircuit = left\ngroup = ground\nx = 0\ny = 0\n"
        "[bank A]\nfirst = 1\nlast = 8\nmax_amps = 8.3\n");
    check_promises(&rig);
    assert_string_equal(rig.name, "Mill pond storm");
    assert_near(rig.mains_hz, 50, 0);
    assert_near(rig.circuits[0].volts, 230, 0); /* of the mains */
    assert_near(rig.circuits[1].volts, 24, 0);
    assert_int_equal(rig.channel_count, 3);
    const struct tc_channel *tip = &rig.channels[0], *trunk = &rig.channels[1], *flood = &rig.channels[2];
    assert_int_equal(tip->number, 1);
    assert_int_equal(tip->parent, 1);
    assert_int_equal(tip->curve, TC_CURVE_LSTAR);
    assert_true(tip->cord_metric);
    assert_near(tip->cord_length, 30, 0);
    assert_string_equal(trunk->name, "trunk");
    assert_int_equal(trunk->circuit, 1);
    assert_near(trunk->watts, 5.5, 0);
    assert_near(trunk->lumens, 400, 0);
    assert_int_equal(trunk->curve, TC_CURVE_SQUARE);
    assert_near(trunk->min_level, 12.5, 0);
    assert_near(trunk->max_level, 98, 0);
    assert_int_equal(trunk->lamp, TC_LAMP_INCANDESCENT);
    assert_near(trunk->rise_ms, 30, 0);
    assert_near(trunk->fall_ms, 90, 0);
    assert_near(trunk->lead_ms, 40, 0);
    assert_near(trunk->max_amps, 1.5, 0);
    assert_near(trunk->cord_length, 100, 0);
    assert_false(trunk->cord_metric);
    assert_int_equal(trunk->cord_awg, 16);
    assert_int_equal(rig.group_count, 2);
    assert_int_equal(tip->group, trunk->group);
    assert_string_equal(rig.groups[flood->group].name, "ground");
    assert_near(trunk->x, 44.5, 0);
    assert_near(trunk->y, 62, 0);
    assert_near(trunk->start_x, 41, 0);
    assert_near(trunk->start_y, 100, 0);
    assert_near(trunk->fork, 0, 0);
    assert_near(tip->fork, 60, 0);
    assert_near(tip->x, 0, 0);
    assert_near(flood->x, 0, 0);
    assert_near(flood->y, 0, 0);
    assert_true(trunk->placed && trunk->start_placed && flood->placed && !flood->start_placed && !tip->placed);
    assert_int_equal(flood->kind, TC_FLOOD);
    assert_int_equal(rig.bank_count, 1);
    assert_string_equal(rig.banks[0].name, "A");
    assert_int_equal(rig.banks[0].last, 8);
    assert_near(rig.banks[0].max_amps, 8.3, 0);
    tc_rig_clear(&rig);
}

/* Foot, inch, pound and standard gravity are exact by definition (NIST SP 811):
 * 0.3048 m, 0.0254 m, 4.4482216152605 N, 9.80665 N a kilogram. */
static void overhead_units_come_by_the_end_of_the_key(void **state)
{
    (void)state;
    struct tc_rig rig = good(CIRCUIT CHANNEL(1) "[overhead]\nspan_ft = 50\nsag_in = 6\ncentre_lb = 5\n"
                                                "uniform_lb_per_ft = 0.1\n"
                             "breaking_lb = 3000\nknot = bowline\ndesign_factor = 12\n");
    assert_true(rig.overhead.given);
    assert_false(rig.overhead.metric);
    assert_near(rig.overhead.span_m, 15.24, 1e-12);
    assert_near(rig.overhead.sag_m, 0.1524, 1e-12);
    assert_near(rig.overhead.centre_n, 5 * 4.4482216152605, 1e-9);
    assert_near(rig.overhead.uniform_n_per_m, 0.1 * 4.4482216152605 / 0.3048, 1e-9);
    assert_near(rig.overhead.breaking_n, 3000 * 4.4482216152605, 1e-6);
    assert_near(rig.overhead.knot, 0.70, 0);
    assert_near(rig.overhead.design_factor, 12, 0);
    tc_rig_clear(&rig);
    rig = good(CIRCUIT CHANNEL(1) "[overhead]\nspan_m = 15\nsag_m = 0.15\ncentre_kg = 2.5\nuniform_kg_per_m = 0.2\n"
                                  "breaking_n = 9000\nknot = 0.65\n");
    assert_true(rig.overhead.metric);
    assert_near(rig.overhead.span_m, 15, 0);
    assert_near(rig.overhead.centre_n, 24.516625, 1e-9);
    assert_near(rig.overhead.uniform_n_per_m, 1.96133, 1e-9);
    assert_near(rig.overhead.breaking_n, 9000, 0);
    assert_near(rig.overhead.knot, 0.65, 0);
    assert_near(rig.overhead.design_factor, 0, 0); /* not given */
    tc_rig_clear(&rig);
}

/* The same file in other clothes reads the same. */
static void clothes_do_not_matter(void **state)
{
    (void)state;
    static const char *const rows[] = {
        "[circuit a]\nbreaker_amps = 15\n[channel 4]\nname = x y\nkind = flood\nwatts = 5\ncircuit = a\n",
        "[circuit a]\r\nbreaker_amps = 15\r\n[channel 4]\r\nname = x y\r\nkind = flood\r\nwatts = 5\r\ncircuit = a\r\n",
        "[circuit a]\rbreaker_amps = 15\r[channel 4]\rname = x y\rkind = flood\rwatts = 5\rcircuit = a",
        "\xEF\xBB\xBF[circuit a]\nbreaker_amps = 15\n[channel 4]\nname = x y\nkind = flood\nwatts = 5\ncircuit = a",
        ("; c\n# c\n[circuit a] # c\n\tbreaker_amps : 15 ; c\n\n[channel 04]\n   name = x y\t; c\n   kind = flood\n"
         "   watts = 5.0\n   circuit = a   \n"),
        "[channel 4]\ncircuit = a\nwatts = 5e0\nkind = flood\nname = x y\n[circuit a]\nbreaker_amps = 15\n",
    };
    struct tc_rig first = good(rows[0]);
    for (size_t i = 1; i < COUNT(rows); i++) {
        struct tc_rig rig = good(rows[i]);
        assert_int_equal(rig.channel_count, 1);
        assert_same_channel(rig.channels, first.channels);
        assert_string_equal(rig.circuits[0].name, "a");
        tc_rig_clear(&rig);
    }
    tc_rig_clear(&first);
}

/* Text of strangers is data. Bidirectional marks: Unicode UAX 9. */
static void hostile_text_stays_as_it_is(void **state)
{
    (void)state;
    static const char *const names[] = {
        "a \"quoted\" name", "<script>alert(1)</script>", "=1+1", "comma, semicolon;none",
        "\xE2\x80\xAEright to left\xE2\x80\xAC",
        "\x1B[2Jescape", "'; DROP TABLE", "100% %s %n", "\xF0\x9F\x8C\xA9 \xE9\x9B\xB7 \xD7\xA8", "[brackets]",
        "a = b : c", "tab\there",
        "..", "/etc/passwd", "#5",
    };
    for (size_t i = 0; i < COUNT(names); i++) {
        char text[600];
        snprintf(text, sizeof text,
                 "[circuit %s]\nbreaker_amps = 15\n[channel 1]\nname = %s\nkind = branch\nwatts = 5\ngroup = %s\n"
                 "circuit = %s\n",
                 strchr(names[i], ']') ? "a" : names[i], names[i], names[i], strchr(names[i], ']') ? "a" : names[i]);
        struct tc_rig rig = good(text);
        assert_string_equal(rig.channels[0].name, names[i]);
        assert_string_equal(rig.groups[0].name, names[i]);
        assert_string_equal(rig.circuits[rig.channels[0].circuit].name, strchr(names[i], ']') ? "a" : names[i]);
        tc_rig_clear(&rig);
    }
}

static void long_names_are_whole_or_refused(void **state)
{
    (void)state;
    static const size_t lengths[] = { 1, 48, 49, 50, 170, 180, 185, 186, 187, 188, 189, 190, 191, 192, 193, 194, 195,
                                      196, 197, 198, 199, 200, 201, 300, 399 };
    char name[1200], text[6000];
    for (size_t i = 0; i < COUNT(lengths); i++) {
        size_t n = lengths[i];
        for (size_t k = 0; k < n; k++) name[k] = (char)('a' + k % 26);
        name[n] = 0;
        snprintf(text, sizeof text,
                 "[circuit %s]\nbreaker_amps = 15\n[channel 1]\nname = %s ; comment\nkind = branch\nwatts = 5\n"
                 "circuit = %s\ngroup = %s\n", name, name, name, name);
        struct tc_rig rig = good(text);
        assert_string_equal(rig.channels[0].name, name);
        assert_string_equal(rig.circuits[0].name, name);
        assert_string_equal(rig.groups[0].name, name);
        tc_rig_clear(&rig);
    }
    struct tc_rig rig;
    struct tc_problem why;
    memset(name, 'x', 400);
    name[400] = 0;
    snprintf(text, sizeof text, CIRCUIT "[channel 1]\nname = %s\n", name);
    assert_int_equal(read_text(text, &rig, &why), TC_ERR_RIG);
    assert_non_null(strstr(why.text, "t.rig:4: channel 1: name has 400 bytes: up to 399 fit"));
    snprintf(text, sizeof text, "[circuit %s]\n", name);
    assert_int_equal(read_text(text, &rig, &why), TC_ERR_RIG);
    assert_non_null(strstr(why.text, "t.rig:1: a name of 400 bytes is too long: up to 399 fit"));
    memset(name, 'x', 1100);
    name[1100] = 0;
    snprintf(text, sizeof text, CIRCUIT "[channel 1]\nname = %s\n", name);
    assert_int_equal(read_text(text, &rig, &why), TC_ERR_RIG);
    assert_non_null(strstr(why.text, "t.rig:4: this line is longer than 1000 bytes"));
    /* of a comment nothing is lost */
    snprintf(text, sizeof text, ";%s\n" CIRCUIT CHANNEL(1) "  # %s\n", name, name);
    rig = good(text);
    tc_rig_clear(&rig);
}

static void all_512_channels_fit_in_any_order(void **state)
{
    (void)state;
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    assert_non_null(out);
    /* 512 down to 1, each growing from the one before it */
    for (int n = TC_MAX_CHANNELS; n >= 1; n--)
        fprintf(out, "[channel %d]\nkind = branch\nparent = %.0d\nwatts = 5\ncircuit = a\ngroup = g%d\n", n, n - 1, n);
    fputs(CIRCUIT, out);
    fclose(out);
    struct tc_rig rig;
    struct tc_problem why;
    assert_int_equal(tc_rig_read(text, size, path, &rig, &why), TC_OK);
    free(text);
    check_promises(&rig);
    assert_int_equal(rig.channel_count, TC_MAX_CHANNELS);
    assert_int_equal(rig.group_count, TC_MAX_CHANNELS);
    for (size_t i = 0; i < TC_MAX_CHANNELS; i++) assert_int_equal(rig.channels[i].parent, (int)i - 1);
    tc_rig_clear(&rig);
}

/* ---- Defaults ---- */

static void defaults_hold_for_channels_that_do_not_say_otherwise(void **state)
{
    (void)state;
    struct tc_rig rig = good(
        CIRCUIT "[circuit b]\nbreaker_amps = 15\n"
        "[channel 1]\nkind = branch\n"
        "[channel 2]\nkind = flood\nwatts = 15\ncircuit = b\nmin_level = 0\ncurve = linear\ncord_length_m = 3\n"
        "group =\n"
        "[defaults]\ncircuit = a\nwatts = 5\nmin_level = 12\ncurve = square\ncord_length_ft = 50\nlamp = led\n"
        "group = bolt\n");
    check_promises(&rig);
    const struct tc_channel *branch = &rig.channels[0], *flood = &rig.channels[1];
    assert_int_equal(branch->circuit, 0);
    assert_near(branch->watts, 5, 0);
    assert_near(branch->min_level, 12, 0);
    assert_int_equal(branch->curve, TC_CURVE_SQUARE);
    assert_near(branch->cord_length, 50, 0);
    assert_false(branch->cord_metric);
    assert_string_equal(rig.groups[branch->group].name, "bolt");
    assert_int_equal(flood->circuit, 1);
    assert_near(flood->watts, 15, 0);
    assert_near(flood->min_level, 0, 0);
    assert_int_equal(flood->curve, TC_CURVE_LINEAR);
    assert_near(flood->cord_length, 3, 0); /* the same quantity in another unit */
    assert_true(flood->cord_metric);
    assert_int_equal(flood->group, -1);
    tc_rig_clear(&rig);
}

/* ---- The light network ---- */

static void channels_have_their_slots_on_the_light_network(void **state)
{
    (void)state;
    struct tc_rig rig = good(CIRCUIT CHANNEL(1) CHANNEL(4) "slot = 1025\n" CHANNEL(9)
                             "[network]\nuniverse = 7\nfirst_slot = 505\npriority = 0\nto = 127.0.0.1\n");
    assert_int_equal(rig.network.universe, 7);
    assert_int_equal(rig.network.priority, 0);
    assert_string_equal(rig.network.to, "127.0.0.1");
    assert_int_equal(rig_slot(&rig, 0), 504);
    assert_int_equal(rig_slot(&rig, 1), 1024);
    assert_int_equal(rig_slot(&rig, 2), 512); /* the first of the next universe */
    assert_int_equal(rig_universes(&rig), 3);
    tc_rig_clear(&rig);

    assert_int_equal(tc_rig_builtin(&rig), TC_OK);
    assert_int_equal(rig.network.universe, 1);
    assert_int_equal(rig.network.priority, 100); /* ANSI E1.31-2018, 6.2.3 */
    tc_rig_clear(&rig);
    rig = good(CIRCUIT CHANNEL(1) "[network]\nto = 10.0.0.7\n"); /* each key for itself has its default */
    assert_int_equal(rig.network.universe, 1);
    assert_int_equal(rig.network.first_slot, 1);
    assert_int_equal(rig.network.priority, 100);
    for (size_t c = 0; c < rig.channel_count; c++) assert_int_equal(rig_slot(&rig, c), c);
    assert_int_equal(rig_universes(&rig), 1);
    tc_rig_clear(&rig);
}

/* ---- Bad files ---- */

static void errors_name_line_value_and_what_would_be_right(void **state)
{
    (void)state;
    static const struct { const char *text, *want; } rows[] = {
        /* nothing there */
        { "", ": there is nothing in it: a rig file has at least a [circuit NAME] and a [channel N]" },
        { "\n\n; only a comment\n", ": there is nothing in it: a rig file has at least a [circuit NAME] and a [channel N]" },
        { "[rig]\nname = x\n", ": it has no channels: write a section [channel N] for each" },
        { CIRCUIT, ": it has no channels: write a section [channel N] for each" },
        /* headings */
        { "[chanel 4]\n", ":1: there is no section [chanel]; did you mean [channel N]?" },
        { "\n[Circuit a]\n", ":2: there is no section [Circuit]; did you mean [circuit NAME]?" },
        { "[lighthouse]\n", ":1: there is no section [lighthouse]; there are [rig], [circuit NAME], [channel N], [defaults], [bank NAME], [overhead] and [network]" },
        { "[]\n", ":1: there is no section []; did you mean [rig]?" },
        { "[channel]\n", ":1: [channel] lacks its name: write [channel N]" },
        { "[circuit  ]\n", ":1: [circuit] lacks its name: write [circuit NAME]" },
        { "[rig one]\n", ":1: [rig one]: this section takes no name: write [rig]" },
        { "[channel one]\n", ":1: [channel one]: 'one' is not a channel number from 1 to 512" },
        { "[channel 0]\n", ":1: [channel 0]: '0' is not a channel number from 1 to 512" },
        { "[channel 513]\n", ":1: [channel 513]: '513' is not a channel number from 1 to 512" },
        { "[channel -1]\n", ":1: [channel -1]: '-1' is not a channel number from 1 to 512" },
        { "[channel 1.5]\n", ":1: [channel 1.5]: '1.5' is not a channel number from 1 to 512" },
        { "[channel 99999999999999999999]\n", ":1: [channel 99999999999999999999]: '99999999999999999999' is not a channel number from 1 to 512" },
        { "[channel 4\n", ":1: '[channel 4' lacks its closing ]" },
        { "[circuit a]b]\n", ":1: 'b]' stands after the heading: a ] ends it, and names can't contain one" },
        { CIRCUIT CHANNEL(4) "[network]\nuniverse = 0\n", ":8: network: universe 0 is below 1" },
        { CIRCUIT CHANNEL(4) "[network]\nuniverse = 64000\n", ":8: network: universe 64000 is above 63999" },
        { CIRCUIT CHANNEL(4) "[network]\npriority = 201\n", ":8: network: priority 201 is above 200" },
        { CIRCUIT CHANNEL(4) "[network]\nfirst_slot = 513\n", ":8: network: first_slot 513 is above 512" },
        { CIRCUIT CHANNEL(4) "slot = 0\n", ":7: channel 4: slot 0 is below 1" },
        { CIRCUIT CHANNEL(4) CHANNEL(5) "slot = 4\n", ":11: channels 4 and 5 have the same slot, 4: give one of them another" },
        { CIRCUIT CHANNEL(4) "slot = 513\n[network]\nuniverse = 63999\n", ":9: network: the slots reach into universe 64000: the last that there is is 63999" },
        { CIRCUIT CHANNEL(4) "[channel 4]\n", ":7: channel 4 is there twice (first in line 3)" },
        { CIRCUIT CHANNEL(4) "[channel 04]\n", ":7: channel 4 is there twice (first in line 3)" },
        { CIRCUIT CIRCUIT, ":3: circuit a is there twice (first in line 1)" },
        { "[rig]\n[rig]\n", ":2: rig is there twice (first in line 1)" },
        { "[overhead]\nspan_m = 9\nsag_m = 1\n[overhead]\n", ":4: overhead is there twice (first in line 1)" },
        /* lines */
        { "watts = 5\n", ":1: watts stands before the first [section]" },
        { CIRCUIT "hello\n", ":3: 'hello' is neither a [section] nor of the form key = value" },
        { "[circuit a]\r\nbreaker_amps = 15\r\n\r\nhello\r\n", ":4: 'hello' is neither a [section] nor of the form key = value" },
        { "[circuit a]\rbreaker_amps = 15\r\rhello\r", ":4: 'hello' is neither a [section] nor of the form key = value" },
        { CIRCUIT "= 5\n", ":3: '= 5' is neither a [section] nor of the form key = value" },
        { CIRCUIT "caf\xE9 = 5\n", ":3: this line is not UTF-8: save the file in UTF-8" },
        { "\xFF\xFE[\n", ":1: this line is not UTF-8: save the file in UTF-8" },
        { CIRCUIT "name = \xC0\xAF\n", ":3: this line is not UTF-8: save the file in UTF-8" },
        /* keys */
        { CIRCUIT "[channel 4]\nwats = 5\n", ":4: channel 4: there is no key 'wats' in [channel N]; did you mean watts?" },
        { CIRCUIT "[channel 4]\nminlevel = 5\n", ":4: channel 4: there is no key 'minlevel' in [channel N]; did you mean min_level?" },
        { CIRCUIT "[channel 4]\nWatts = 5\n", ":4: channel 4: there is no key 'Watts' in [channel N]; did you mean watts?" },
        { CIRCUIT "[channel 4]\ncolour temperature = 5\n", ":4: channel 4: there is no key 'colour temperature' in [channel N]" },
        { CIRCUIT "watts = 5\n", ":3: circuit a: there is no key 'watts' in [circuit NAME]; did you mean volts?" },
        { CIRCUIT "cord_awg = 5\n", ":3: circuit a: cord_awg is no key of [circuit NAME] but of [channel N]" },
        { CIRCUIT "breaker_amps = 20\n", ":3: circuit a: breaker_amps is there twice (first in line 2)" },
        { CIRCUIT "[channel 4]\nkind = flood\n\nkind = flood\n", ":6: channel 4: kind is there twice (first in line 4)" },
        { "[channel 4]\ncord_length_ft = 9\ncord_length_m = 3\n", ":3: channel 4: cord_length_m says again what cord_length_ft says in line 2: keep one" },
        { "[overhead]\nsag_in = 9\nsag_ft = 3\n", ":3: overhead: sag_ft says again what sag_in says in line 2: keep one" },
        /* values */
        { CIRCUIT "[channel 4]\nmin_level = 130\n", ":4: channel 4: min_level 130 is above 100" },
        { CIRCUIT "[channel 4]\nmin_level = -1\n", ":4: channel 4: min_level -1 is below 0" },
        { CIRCUIT "[channel 4]\nwatts = 0\n", ":4: channel 4: watts 0 is below 0.01" },
        { CIRCUIT "[channel 4]\nwatts = -5\n", ":4: channel 4: watts -5 is below 0.01" },
        { CIRCUIT "[channel 4]\nwatts = five\n", ":4: channel 4: watts 'five' is not a number" },
        { "[ circuit   a ]  ; one\n  breaker_amps=15;x\n", ":2: circuit a: breaker_amps '15;x' is not a number" },
        { CIRCUIT "[channel 4]\nwatts = 5 W\n", ":4: channel 4: watts '5 W' is not a number: write 5, without a unit" },
        { CIRCUIT "[channel 4]\nwatts = 5,5\n", ":4: channel 4: watts '5,5' is not a number: write 5.5" },
        { CIRCUIT "[channel 4]\nwatts = 5W\n", ":4: channel 4: watts '5W' is not a number: write 5, without a unit" },
        { CIRCUIT "[channel 4]\nmax_level = 80.5 %\n", ":4: channel 4: max_level '80.5 %' is not a number: write 80.5, without a unit" },
        { CIRCUIT "[channel 4]\nwatts = 5 # each\n", ":4: channel 4: watts '5 # each' is not a number: a comment after a value begins with ;" },
        { CIRCUIT "[channel 4]\nwatts = 5,5,5\n", ":4: channel 4: watts '5,5,5' is not a number" },
        { CIRCUIT "[channel 4]\nkind = branch # mine\n", ":4: channel 4: kind 'branch # mine' is not branch or flood: a comment after a value begins with ;" },
        { "[circuit a]\nbreaker = 15\n", ":2: circuit a: there is no key 'breaker' in [circuit NAME]; did you mean breaker_amps?" },
        { CIRCUIT "[channel 4]\ncord_length = 9\n", ":4: channel 4: there is no key 'cord_length' in [channel N]; did you mean cord_length_ft?" },
        { CIRCUIT "[channel 4]\nwatts = nan\n", ":4: channel 4: watts 'nan' is not a number" },
        { CIRCUIT "[channel 4]\nwatts = inf\n", ":4: channel 4: watts 'inf' is not a number" },
        { CIRCUIT "[channel 4]\nwatts = 1e999\n", ":4: channel 4: watts '1e999' is not a number" },
        { CIRCUIT "[channel 4]\nwatts = 0x10\n", ":4: channel 4: watts '0x10' is not a number" },
        { CIRCUIT "[channel 4]\nwatts =\n", ":4: channel 4: watts '' is not a number" },
        { CIRCUIT "[channel 4]\ncord_awg = 16.5\n", ":4: channel 4: cord_awg '16.5' is not a whole number" },
        { CIRCUIT "[channel 4]\nparent = trunk\n", ":4: channel 4: parent 'trunk' is not a number" },
        { CIRCUIT "[channel 4]\nparent = 513\n", ":4: channel 4: parent 513 is above 512" },
        { CIRCUIT "[channel 4]\nkind = strobe\n", ":4: channel 4: kind 'strobe' is not branch or flood" },
        { CIRCUIT "[channel 4]\ncurve = log\n", ":4: channel 4: curve 'log' is not linear, square or lstar" },
        { CIRCUIT "[channel 4]\nlamp = neon\n", ":4: channel 4: lamp 'neon' is not led or incandescent" },
        { CIRCUIT "[channel 4]\nname =\n", ":4: channel 4: name is empty: give one, or leave the line out" },
        { "[rig]\nmains_hz = 400\n", ":2: rig: mains_hz 400 is above 70" },
        { "[rig]\nmains_volts = 0\n", ":2: rig: mains_volts 0 is below 5" },
        { "[circuit a]\nbreaker_amps = 0\n", ":2: circuit a: breaker_amps 0 is below 0.5" },
        { "[bank A]\nlast = 600\n", ":2: bank A: last 600 is above 512" },
        { "[overhead]\nknot = granny\n", ":2: overhead: knot 'granny' is neither a number nor figure-8, bowline, clove-hitch or unknown" },
        { "[overhead]\nknot = 75\n", ":2: overhead: knot 75 is above 1" },
        { "[overhead]\ndesign_factor = 0.5\n", ":2: overhead: design_factor 0.5 is below 1" },
        /* what is missing */
        { "[circuit a]\n" CHANNEL(1), ":1: circuit a: breaker_amps is missing: write breaker_amps = 15" },
        { CIRCUIT "[channel 4]\nwatts = 5\ncircuit = a\n", ":3: channel 4: kind is missing: write kind = branch, or kind = flood" },
        { CIRCUIT "[channel 4]\nkind = flood\ncircuit = a\n", ":3: channel 4: watts is missing: write watts = 5, as the nameplate says" },
        { CIRCUIT "[channel 4]\nkind = flood\nwatts = 5\n", ":3: channel 4: circuit is missing: write circuit = NAME, with a section [circuit NAME]" },
        { CIRCUIT "[channel 4]\nkind = flood\nwatts = 5\ncircuit =\n", ":6: channel 4: circuit is missing: write circuit = NAME, with a section [circuit NAME]" },
        { CIRCUIT "[channel 4]\n" CHANNEL(5), ":3: channel 4: kind is missing: write kind = branch, or kind = flood" },
        { CIRCUIT CHANNEL(1) "[bank A]\nfirst = 1\nlast = 8\n", ":7: bank A: max_amps is missing: write max_amps = 8" },
        { CIRCUIT CHANNEL(1) "[overhead]\nsag_ft = 1\n", ":7: overhead: span is missing: write span_ft = 50, or span_m = 15" },
        { CIRCUIT CHANNEL(1) "[overhead]\nspan_ft = 50\n", ":7: overhead: sag is missing: write sag_ft = 2.5, sag_in = 30 or sag_m = 0.75" },
        /* defaults */
        { "[defaults]\nname = all\n", ":2: defaults: name belongs to one channel: write it in its [channel N]" },
        { "[defaults]\nparent = 1\n", ":2: defaults: parent belongs to one channel: write it in its [channel N]" },
        { "[defaults]\nwats = 1\n", ":2: defaults: there is no key 'wats' in [defaults]; did you mean watts?" },
        { "[defaults]\nmin_level = 130\n", ":2: defaults: min_level 130 is above 100" },
        { "[defaults all]\n", ":1: [defaults all]: this section takes no name: write [defaults]" },
        { "[defaults]\ncircuit = b\n" CIRCUIT "[channel 4]\nkind = flood\nwatts = 5\n", ":2: channel 4: there is no section [circuit b]" },
        { "[defaults]\nmin_level = 60\n" CIRCUIT CHANNEL(4) "max_level = 50\n", ":9: channel 4: min_level 60 is not below max_level 50" },
        /* what does not fit together */
        { CIRCUIT CHANNEL(4) "min_level = 80\nmax_level = 80\n", ":8: channel 4: min_level 80 is not below max_level 80" },
        { CIRCUIT CHANNEL(4) "max_level = 10\nmin_level = 80\n", ":8: channel 4: min_level 80 is not below max_level 10" },
        { CIRCUIT CHANNEL(4) "min_level = 100\n", ":7: channel 4: min_level 100 is not below max_level 100" },
        { CIRCUIT CHANNEL(4) "max_level = 0\n", ":7: channel 4: min_level 0 is not below max_level 0" },
        { "[circuit b]\nbreaker_amps = 15\n" CHANNEL(4), ":6: channel 4: there is no section [circuit a]" },
        { CHANNEL(4), ":4: channel 4: there is no section [circuit a]" },
        { CIRCUIT CHANNEL(4) "x = 101\n", ":7: channel 4: x 101 is above 100" },
        { CIRCUIT CHANNEL(4) "y = -1\n", ":7: channel 4: y -1 is below 0" },
        { CIRCUIT CHANNEL(4) "fork = 0\n", ":7: channel 4: fork 0 is below 1" },
        { CIRCUIT CHANNEL(4) "x = 40\n", ":7: channel 4: x is there without y: write both, or neither" },
        { CIRCUIT CHANNEL(4) "start_y = 40\n", ":7: channel 4: start_y is there without start_x: write both, or neither" },
        { CIRCUIT CHANNEL(5) CHANNEL(4) "start_x = 40\nstart_y = 90\nparent = 5\n", ":11: channel 4: start_x is for a root: this branch begins on its parent, where fork says" },
        { CIRCUIT "[channel 4]\nkind = flood\nwatts = 5\ncircuit = a\nstart_x = 40\nstart_y = 0\n", ":7: channel 4: start_x is for branches: x and y say where a flood stands" },
        { CIRCUIT CHANNEL(4) "fork = 50\n", ":7: channel 4: fork is for a branch with a parent: it is how far along that it begins" },
        { "[defaults]\nx = 1\n", ":2: defaults: x belongs to one channel: write it in its [channel N]" },
        { CIRCUIT CHANNEL(4) "parent = 4\n", ":7: channel 4: parent 4 is the channel itself: give the branch that it grows from, or leave it empty for a root" },
        { CIRCUIT CHANNEL(4) "parent = 5\n", ":7: channel 4: parent 5 is not there: there is no section [channel 5]" },
        { CIRCUIT CHANNEL(4) "parent = 5\n[channel 5]\nkind = flood\nwatts = 5\ncircuit = a\n", ":7: channel 4: parent 5 is a flood: only branches have forks" },
        { CIRCUIT CHANNEL(5) "[channel 4]\nkind = flood\nwatts = 5\ncircuit = a\nparent = 5\n", ":11: channel 4: a flood grows from no branch: leave parent empty" },
        { CIRCUIT CHANNEL(1) "parent = 2\n" CHANNEL(2) "parent = 1\n", ":7: channel 1: its parents form a loop (1 - 2 - 1): leave one parent empty, for a root" },
        { CIRCUIT CHANNEL(9) CHANNEL(8) "parent = 7\n" CHANNEL(7) "parent = 6\n" CHANNEL(6) "parent = 8\n" CHANNEL(1) "parent = 6\n",
          ":21: channel 6: its parents form a loop (6 - 8 - 7 - 6): leave one parent empty, for a root" },
        { CIRCUIT CHANNEL(1) "[bank A]\nfirst = 9\nlast = 8\nmax_amps = 8\n", ":9: bank A: last 8 is before first 9" },
        { CIRCUIT CHANNEL(1) "[overhead]\nspan_ft = 10\nsag_ft = 5\ncentre_lb = 5\n", ":9: overhead: the sag is half the span or more: it is how far the middle hangs below the ends" },
        { CIRCUIT CHANNEL(1) "[overhead]\nspan_ft = 50\nsag_ft = 5\n", ":7: overhead: nothing hangs on it: write centre_lb, centre_kg, uniform_lb_per_ft or uniform_kg_per_m" },
        /* what could disturb a terminal is shown plainly */
        { "[channel 1]\nkind = \x1B[2J\n", ":2: channel 1: kind '?[2J' is not branch or flood" },
        { "[circuit \xE2\x80\xAE" "a]\nbreaker_amps = x\n", ":2: circuit ?a: breaker_amps 'x' is not a number" },
    };
    size_t lead = strlen(path);
    for (size_t i = 0; i < COUNT(rows); i++) {
        struct tc_rig rig;
        struct tc_problem why;
        enum tc_status status = read_text(rows[i].text, &rig, &why);
        if (status != TC_ERR_RIG) fail_msg("row %zu: status %d, wanted '%s'", i, (int)status, rows[i].want);
        assert_memory_equal(why.text, path, lead);
        assert_string_equal(why.text + lead, rows[i].want);
        assert_null(rig.channels); /* nothing to clear */
        tc_rig_clear(&rig);
        /* nobody asks why */
        assert_int_equal(tc_rig_read(rows[i].text, strlen(rows[i].text), path, &rig, NULL), TC_ERR_RIG);
    }
}

/* Each with its line, in the order of the lines; what follows from another error is left out. */
static void all_that_is_wrong_is_told(void **state)
{
    (void)state;
    static const struct { const char *text; size_t count; const char *want[RIG_PROBLEMS_MOST]; } rows[] = {
        { "[circuit a]\nbreaker = 15\n[channel 1]\nkind = brunch\nwatts = 5\ncircuit = a\n[channel 2]\nkind = flood\ncircuit = a\n", 3,
          { ":2: circuit a: there is no key 'breaker' in", ":4: channel 1: kind 'brunch' is not", ":7: channel 2: watts is missing" } },
        { "[circit a]\nbreaker_amps = 15\nnonsense\n[channel 1]\nkind = flood\nwatts\n[channel 1]\n", 3, /* a heading's section goes with it */
          { ":1: there is no section [circit]", ":6: 'watts' is neither a [section] nor", ":7: channel 1 is there twice" } },
        { CIRCUIT CHANNEL(3) "[channel 4\nkind = flood\nname = x\n[channel 5] 5\nkind = flood\n", 2, /* not the keys of channel 3 */
          { ":7: '[channel 4' lacks its closing ]", ":10: '5' stands after the heading" } },
        { "watts = 5\ncircuit = a\n[circuit a]\nbreaker_amps = x\n", 2,
          { ":1: watts stands before the first [section]", ":4: circuit a: breaker_amps 'x' is not a number" } },
        { CIRCUIT CHANNEL(1) "parent = 9\n" CHANNEL(2) "min_level = 50\nmax_level = 40\n" "[bank A]\nfirst = 9\nlast = 8\nmax_amps = 8\n", 3,
          { ":7: channel 1: parent 9 is not there", ":13: channel 2: min_level 50 is not below", ":16: bank A: last 8 is before first 9" } },
        { "[defaults]\nwatt = 5\n[channel 1]\nkind = flood\n[circuit]\n", 2, /* what [defaults] would have said is not missed */
          { ":2: defaults: there is no key 'watt' in [defaults]; did you mean watts?", ":5: [circuit] lacks its name" } },
        { "[rig]\na=1\nb=1\nc=1\nd=1\ne=1\nf=1\ng=1\nh=1\ni=1\nj=1\nk=1\n", 11, { ":2:", ":3:", ":4:", ":5:", ":6:", ":7:", ":8:", ":9:", ":10:", ":11:" } },
    };
    size_t lead = strlen(path);
    for (size_t i = 0; i < COUNT(rows); i++) {
        struct tc_rig rig;
        struct tc_problem why;
        struct rig_problems all;
        assert_int_equal(rig_read(rows[i].text, strlen(rows[i].text), path, &rig, &all, &why), TC_ERR_RIG);
        assert_int_equal(all.count, rows[i].count);
        assert_string_equal(why.text, all.at[0].is.text);
        for (size_t k = 0; k < all.count && k < RIG_PROBLEMS_MOST; k++)
            if (strncmp(all.at[k].is.text + lead, rows[i].want[k], strlen(rows[i].want[k])))
                fail_msg("row %zu: '%s', wanted '%s'", i, all.at[k].is.text, rows[i].want[k]);
    }
}

/* A word in capitals is the same word. */
static void words_may_be_in_capitals(void **state)
{
    (void)state;
    struct tc_rig rig = good(CIRCUIT "[channel 1]\nkind = Branch\nwatts = 5\ncircuit = a\ncurve = SQUARE\n"
                                     "lamp = LED\n");
    assert_int_equal(rig.channels[0].kind, TC_BRANCH);
    assert_int_equal(rig.channels[0].curve, TC_CURVE_SQUARE);
    assert_int_equal(rig.channels[0].lamp, TC_LAMP_LED);
    tc_rig_clear(&rig);
}

static void zero_bytes_are_refused(void **state)
{
    (void)state;
    static const char text[] = CIRCUIT "name = a\0b\n";
    struct tc_rig rig;
    struct tc_problem why;
    assert_int_equal(tc_rig_read(text, sizeof text - 1, path, &rig, &why), TC_ERR_RIG);
    assert_non_null(strstr(why.text, "t.rig:3: a zero byte: this is not plain text; save the file in UTF-8"));
}

static void sections_without_end_are_refused(void **state)
{
    (void)state;
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    assert_non_null(out);
    for (int i = 0; i < 100000; i++) fprintf(out, "[circuit c%d]\nbreaker_amps = 15\n", i);
    fclose(out);
    struct tc_rig rig;
    struct tc_problem why;
    assert_int_equal(tc_rig_read(text, size, path, &rig, &why), TC_ERR_RIG);
    free(text);
    assert_non_null(strstr(why.text, "t.rig:4097: more than 2048 sections"));
}

/* ---- Anything at all ---- */

static const char whole[] =
    "[rig]\nname = Mill pond\n" CIRCUIT "[channel 2]\nname = tip\nkind = branch\nparent = 1\nwatts = 5\ncircuit = a\n"
                                        "group = b\ncurve = lstar\n"
    CHANNEL(1) "min_level = 12 ; first light\nmax_level = 95\ncord_length_m = 12\ncord_awg = 16\n[bank A]\nfirst = 1\n"
               "last = 8\nmax_amps = 8\n"
    "[overhead]\nspan_ft = 50\nsag_in = 6\ncentre_lb = 5\nknot = bowline\n";

/* Reads a text: it is fine and keeps its promises, or refused with a line. */
static void read_anything(const char *text, size_t size)
{
    struct tc_rig rig;
    struct tc_problem why = { "" };
    enum tc_status status = tc_rig_read(text, size, path, &rig, &why);
    if (status == TC_OK) {
        check_promises(&rig);
        tc_rig_clear(&rig);
        return;
    }
    assert_int_equal(status, TC_ERR_RIG);
    assert_memory_equal(why.text, path, strlen(path));
    assert_true(text_utf8(why.text));
    assert_null(strpbrk(why.text, "\n\r\x1B"));
}

static void every_beginning_of_a_file_is_safe(void **state)
{
    (void)state;
    for (size_t n = 0; n < sizeof whole; n++) {
        read_anything(whole, n);
    }
}

static void files_with_random_damage_are_safe(void **state)
{
    (void)state;
    static const char *const parts[] = { "[", "]", "=", "\n", ";", " ", "-", "9", "\xFF", "\xC3\xA9", "\r", "channel ", "1", "e9", "parent = 1\n", "", "\t" };
    struct randomiser r = random_keyed(20, 0, 0);
    for (int round = 0; round < 2000; round++) {
        char text[2 * sizeof whole];
        size_t n = sizeof whole - 1;
        memcpy(text, whole, n);
        for (uint32_t hits = 1 + random_below(&r, 4); hits; hits--) {
            const char *part = parts[random_below(&r, COUNT(parts))];
            size_t at = random_below(&r, (uint32_t)n), cut = random_below(&r, 8), put = strlen(part);
            if (at + cut > n) cut = n - at;
            memmove(text + at + put, text + at + cut, n - at - cut);
            memcpy(text + at, part, put);
            n += put - cut;
        }
        read_anything(text, n);
    }
}

static void every_failing_allocation_is_reported_and_leaks_nothing(void **state)
{
    (void)state;
    struct tc_rig rig;
    struct tc_problem why;
    int failures = 0;
    for (enum tc_status status = TC_ERR_MEMORY; status != TC_OK; failures++) {
        allocations_left = failures;
        status = tc_rig_read(whole, sizeof whole - 1, path, &rig, &why);
        allocations_left = -1;
        if (status == TC_OK) break;
        assert_int_equal(status, TC_ERR_MEMORY);
        assert_string_equal(why.text, "out of memory");
        assert_null(rig.channels);
    }
    assert_true(failures >= 6);
    tc_rig_clear(&rig);
    for (failures = 0;; failures++) {
        allocations_left = failures;
        enum tc_status status = tc_rig_builtin(&rig);
        allocations_left = -1;
        if (status == TC_OK) break;
        assert_int_equal(status, TC_ERR_MEMORY);
    }
    assert_int_equal(failures, 2);
    tc_rig_clear(&rig);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(built_in_rig_is_as_the_manual_says),
        cmocka_unit_test(presets_fill_what_is_left_out),
        cmocka_unit_test(every_key_arrives),
        cmocka_unit_test(overhead_units_come_by_the_end_of_the_key),
        cmocka_unit_test(clothes_do_not_matter),
        cmocka_unit_test(hostile_text_stays_as_it_is),
        cmocka_unit_test(long_names_are_whole_or_refused),
        cmocka_unit_test(all_512_channels_fit_in_any_order),
        cmocka_unit_test(defaults_hold_for_channels_that_do_not_say_otherwise),
        cmocka_unit_test(channels_have_their_slots_on_the_light_network),
        cmocka_unit_test(errors_name_line_value_and_what_would_be_right),
        cmocka_unit_test(all_that_is_wrong_is_told),
        cmocka_unit_test(words_may_be_in_capitals),
        cmocka_unit_test(zero_bytes_are_refused),
        cmocka_unit_test(sections_without_end_are_refused),
        cmocka_unit_test(every_beginning_of_a_file_is_safe),
        cmocka_unit_test(files_with_random_damage_are_safe),
        cmocka_unit_test(every_failing_allocation_is_reported_and_leaks_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
