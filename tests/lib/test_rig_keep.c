/* A changed rig goes into the text that it came from, and what somebody wrote there stays. */
#include "check.h"
#include "kept.h"
#include "rigs.h"

#include <glob.h>

#include "rig/rig_keep.h"
#include "rig/rig_new.h"
#include "scratch.h"
#include "words/random.h"

/* What every row begins with. */
#define HEAD "[circuit left]\nbreaker_amps = 15 ; by the gate\n[circuit right]\nbreaker_amps = 10\n"
#define BRANCH "kind = branch\nwatts = 5\ncircuit = left\n"

static const struct {
    const char *name, *before, *is; /* `is`: the changed rig, as any text of it */
    const char *after;              /* NULL: it can't be kept */
} rows[] = {
    { "nothing", "\xEF\xBB\xBF; mine\r\n" HEAD "[channel 1]\r\n" BRANCH, HEAD "[channel 1]\n" BRANCH,
      "\xEF\xBB\xBF; mine\r\n" HEAD "[channel 1]\r\n" BRANCH },
    { "a value, its comment and its spelling kept", HEAD "[channel 1]\n" BRANCH "  min_level :  5.0   ; guessed\n; end",
      HEAD "[channel 1]\n" BRANCH "min_level = 12.5\n", HEAD "[channel 1]\n" BRANCH "  min_level :  12.5   ; guessed\n; end" },
    { "what is spelt otherwise but means the same stays", HEAD "[channel 01]\n" BRANCH "min_level = 05.00\n",
      HEAD "[channel 1]\nname = trunk\n" BRANCH "min_level = 5\n", HEAD "[channel 01]\n" BRANCH "min_level = 05.00\nname = trunk\n" },
    { "a new key, indented and ended as the others", "[circuit a]\r\n\tbreaker_amps = 15\r\n[channel 3]\r\n\tkind = flood\r\n\twatts = 5\r\n\tcircuit = a\r\n\r\n; end\r\n",
      "[circuit a]\nbreaker_amps = 15\n[channel 3]\nkind = flood\nwatts = 5\ncircuit = a\ncurve = lstar\n",
      "[circuit a]\r\n\tbreaker_amps = 15\r\n[channel 3]\r\n\tkind = flood\r\n\twatts = 5\r\n\tcircuit = a\r\n\tcurve = lstar\r\n\r\n; end\r\n" },
    { "a new key behind a last line without its end", HEAD "[channel 1]\nkind = branch\nwatts = 5\ncircuit = left",
      HEAD "[channel 1]\n" BRANCH "slot = 7\n", HEAD "[channel 1]\n" BRANCH "slot = 7\n" },
    { "a key taken out", HEAD "[channel 1]\n" BRANCH "curve = square ; slow\n; about it\n", HEAD "[channel 1]\n" BRANCH,
      HEAD "[channel 1]\n" BRANCH "; about it\n" },
    { "a parent for a root", HEAD "[channel 1]\n" BRANCH "[channel 2]\nparent =        ; empty = a root\n" BRANCH,
      HEAD "[channel 1]\n" BRANCH "[channel 2]\nparent = 1\n" BRANCH,
      HEAD "[channel 1]\n" BRANCH "[channel 2]\nparent = 1        ; empty = a root\n" BRANCH },
    { "a channel more", HEAD "\n; the trunk\n[channel 1]\n" BRANCH "\n; the line\n[overhead]\nspan_ft = 50\nsag_in = 30\ncentre_lb = 5\n",
      HEAD "[channel 1]\n" BRANCH "[channel 9]\nname = flood 9\nkind = flood\nwatts = 15\ncircuit = right\n[overhead]\nspan_ft = 50\nsag_in = 30\ncentre_lb = 5\n",
      HEAD "\n; the trunk\n[channel 1]\n" BRANCH "[channel 9]\nname = flood 9\nkind = flood\nwatts = 15\ncircuit = right\n\n; the line\n[overhead]\nspan_ft = 50\nsag_in = 30\ncentre_lb = 5\n" },
    { "a channel less, and one blank line where it was", HEAD "\n[channel 1]\n" BRANCH "\n[channel 2]\n; about 2\n" BRANCH "\n; about 3\n[channel 3]\n" BRANCH,
      HEAD "[channel 1]\n" BRANCH "[channel 3]\n" BRANCH, HEAD "\n[channel 1]\n" BRANCH "\n; about 3\n[channel 3]\n" BRANCH },
    { "a channel with another number keeps what is said of it", HEAD "[ channel  05 ] ; the tip\n" BRANCH "[channel 6]\nparent = 5 ; on 5\n" BRANCH,
      HEAD "[channel 40]\nname = channel 5\n" BRANCH "[channel 6]\nparent = 40\n" BRANCH,
      HEAD "[ channel  40 ] ; the tip\n" BRANCH "name = channel 5\n[channel 6]\nparent = 40 ; on 5\n" BRANCH },
    { "a circuit with another name, in [defaults] too", HEAD "[defaults]\ncircuit = left ; all of them\n[channel 1]\nkind = branch\nwatts = 5\n[channel 2]\n" BRANCH,
      "[circuit gate]\nbreaker_amps = 15\n[circuit right]\nbreaker_amps = 10\n[channel 1]\nkind = branch\nwatts = 5\ncircuit = gate\n[channel 2]\nkind = branch\nwatts = 5\ncircuit = gate\n",
      "[circuit gate]\nbreaker_amps = 15 ; by the gate\n[circuit right]\nbreaker_amps = 10\n[defaults]\ncircuit = gate ; all of them\n[channel 1]\nkind = branch\nwatts = 5\n[channel 2]\nkind = branch\nwatts = 5\ncircuit = gate\n" },
    { "one channel unlike [defaults]", HEAD "[defaults]\nwatts = 5\ncurve = square\ngroup = pond\n[channel 1]\nkind = branch\ncircuit = left\n[channel 2]\nkind = branch\ncircuit = left\n",
      HEAD "[channel 1]\nkind = branch\ncircuit = left\nwatts = 7\n[channel 2]\nkind = branch\ncircuit = left\nwatts = 5\ncurve = square\ngroup = pond\n",
      HEAD "[defaults]\nwatts = 5\ncurve = square\ngroup = pond\n[channel 1]\nkind = branch\ncircuit = left\nwatts = 7\ncurve = linear\ngroup =\n[channel 2]\nkind = branch\ncircuit = left\n" },
    { "what [defaults] say can't be taken back: no number means that a lamp's lumens aren't known",
      HEAD "[defaults]\nlumens = 400 ; each\n[channel 1]\n" BRANCH, HEAD "[channel 1]\n" BRANCH, NULL },
    { "a name and other mains for a text without [rig]", "; mine\n" HEAD "[channel 1]\n" BRANCH, "[rig]\nname = pond\nmains_volts = 230\n" HEAD "[channel 1]\n" BRANCH,
      "; mine\n[rig]\nname = pond\nmains_volts = 230\n\n" HEAD "[channel 1]\n" BRANCH },
    { "volts that were those of the mains", "[rig]\nmains_volts = 120\n[circuit a]\nbreaker_amps = 15\nvolts = 120\n[channel 1]\nkind = flood\nwatts = 1\ncircuit = a\n",
      "[rig]\nmains_volts = 230\n[circuit a]\nbreaker_amps = 15\n[channel 1]\nkind = flood\nwatts = 1\ncircuit = a\n",
      "[rig]\nmains_volts = 230\n[circuit a]\nbreaker_amps = 15\n[channel 1]\nkind = flood\nwatts = 1\ncircuit = a\n" },
    { "the same quantity in another unit", HEAD "[channel 1]\n" BRANCH "[overhead]\nspan_ft = 50\nsag_in = 30 ; measured\ncentre_lb = 5\n",
      HEAD "[channel 1]\n" BRANCH "[overhead]\nspan_ft = 50\nsag_ft = 3\ncentre_lb = 5\n",
      HEAD "[channel 1]\n" BRANCH "[overhead]\nspan_ft = 50\ncentre_lb = 5\nsag_ft = 3\n" },
    { "a network where there was none", HEAD "[channel 1]\n" BRANCH, HEAD "[network]\nuniverse = 3\n[channel 1]\n" BRANCH, HEAD "[channel 1]\n" BRANCH "\n[network]\nuniverse = 3\n" },
};

static struct tc_rig rig_of(const char *text, const char *row)
{
    struct tc_rig rig;
    struct tc_problem why = { "" };
    if (tc_rig_read(text, strlen(text), "some.rig", &rig, &why) != TC_OK) fail_msg("%s: %s\n%s", row, why.text, text);
    return rig;
}

/* Every comment of a text, in order, is in another. */
static void assert_comments_stay(const char *before, const char *after)
{
    const char *at = after;
    for (const char *line = before; line && *line; line = strchr(line, '\n') ? strchr(line, '\n') + 1 : NULL) {
        size_t size = strcspn(line, "\n");
        if (line[strspn(line, " \t")] != ';') continue;
        char *comment = strndup(line, size);
        const char *found = strstr(at, comment);
        if (!found) fail_msg("'%s' is gone", comment);
        at = found + size;
        free(comment);
    }
}

static void what_changes_changes_and_nothing_else(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT(rows); i++) {
        struct tc_rig rig = rig_of(rows[i].is, rows[i].name);
        struct kept now = { NULL, 0 }, anew = { NULL, 0 };
        bool kept;
        assert_int_equal(rig_keep(&rig, rows[i].before, strlen(rows[i].before), "some.rig", kept_sink(&now), &kept, NULL), TC_OK);
        assert_int_equal(tc_rig_write(&rig, kept_sink(&anew), NULL), TC_OK);
        const char *after = rows[i].after ? rows[i].after : anew.bytes;
        if (strcmp(now.bytes, after)) fail_msg("%s: expected\n%s\ngot\n%s", rows[i].name, after, now.bytes);
        assert_int_equal(kept, rows[i].after != NULL);
        struct tc_rig again = rig_of(now.bytes, rows[i].name);
        assert_same_rig(&again, &rig);
        tc_rig_clear(&again);
        tc_rig_clear(&rig);
        kept_free(&now);
        kept_free(&anew);
    }
}

static void what_is_no_rig_file_is_refused(void **state)
{
    (void)state;
    struct tc_rig rig = rig_of(rows[0].is, "any");
    struct kept now = { NULL, 0 };
    bool kept = true;
    static const char *const texts[] = { "", "; nothing\n", "watts = 5\n", "[channel 1]\n", "[channel 1]\nwat = 5\n" };
    for (size_t i = 0; i < COUNT(texts); i++) {
        assert_int_equal(rig_keep(&rig, texts[i], strlen(texts[i]), "some.rig", kept_sink(&now), &kept, NULL), TC_ERR_RIG);
        assert_false(kept || now.size);
    }
    tc_rig_clear(&rig);
}

/* One change of those that people make. Answers whether its section goes. */
static bool change_something(struct tc_rig *rig, struct randomiser *r)
{
    size_t n = random_below(r, (uint32_t)rig->channel_count);
    struct tc_channel *c = &rig->channels[n];
    switch (random_below(r, 9)) {
    case 0: c->watts = 1 + random_below(r, 400) / 4.0; break;
    case 1: snprintf(c->name, sizeof c->name, "lamp %u", (unsigned)random_below(r, 1000)); break;
    case 2: c->min_level = c->max_level * random_below(r, 90) / 100; break;
    case 3: c->curve = (enum tc_curve)random_below(r, 3); break;
    case 4: c->circuit = (int)random_below(r, (uint32_t)rig->circuit_count); break;
    case 5: snprintf(rig->circuits[0].name, sizeof rig->circuits[0].name, "fuse %u", (unsigned)random_below(r, 1000)); break;
    case 6: c->x = random_below(r, 101), c->y = 50, c->placed = true; break;
    case 7: rig->circuits[rig->circuit_count - 1].breaker_amps = 5 + random_below(r, 20); break;
    case 8:
        for (size_t i = 0; i < rig->channel_count; i++)
            if (rig->channels[i].parent == (int)rig->channel_count - 1) return false;
        if (rig->channel_count > 1) rig->channel_count--;
        return true;
    }
    return false;
}

/* Groups that no channel is in any more are in no file. */
static void assert_same_text(const struct tc_rig *a, const struct tc_rig *b)
{
    struct kept one = { NULL, 0 }, other = { NULL, 0 };
    assert_int_equal(tc_rig_write(a, kept_sink(&one), NULL), TC_OK);
    assert_int_equal(tc_rig_write(b, kept_sink(&other), NULL), TC_OK);
    assert_string_equal(one.bytes, other.bytes);
    kept_free(&one);
    kept_free(&other);
}

static void assert_keeps(const char *text, size_t size, struct randomiser *r)
{
    struct tc_rig rig;
    char *now = strndup(text, size);
    if (tc_rig_read(text, size, "some.rig", &rig, NULL) != TC_OK) {
        free(now);
        return;
    }
    for (int k = 0; k < 30; k++) {
        struct kept next = { NULL, 0 };
        struct tc_rig again;
        bool kept, goes = k && change_something(&rig, r);
        enum tc_status status = rig_keep(&rig, now, strlen(now), "some.rig", kept_sink(&next), &kept, NULL);
        if (status != TC_OK) fail_msg("status %d of\n%s", (int)status, now);
        if (!k) assert_string_equal(next.bytes, now); /* as it was, to the byte */
        again = rig_of(next.bytes, "changed");
        assert_same_text(&again, &rig);
        assert_true(kept); /* no change here that a file can't take */
        if (!goes) assert_comments_stay(now, next.bytes);
        tc_rig_clear(&rig);
        rig = again;
        free(now);
        now = next.bytes;
    }
    tc_rig_clear(&rig);
    free(now);
}

static void any_rig_file_takes_any_change(void **state)
{
    (void)state;
    static const char *const patterns[] = { "samples/*.rig", "tests/fuzz/corpus/rig/*.rig" };
    struct randomiser r = random_keyed(4, 0, 0);
    size_t tried = 0;
    for (size_t p = 0; p < COUNT(patterns); p++) {
        glob_t found;
        if (glob(patterns[p], 0, NULL, &found)) continue;
        for (size_t i = 0; i < found.gl_pathc; i++) {
            size_t size = 0;
            char *bytes = scratch_read(found.gl_pathv[i], &size);
            assert_non_null(bytes);
            assert_keeps(bytes, size, &r);
            free(bytes);
            tried++;
        }
        globfree(&found);
    }
    struct kept text = { NULL, 0 };
    assert_int_equal(rig_new_example(kept_sink(&text)), TC_OK);
    assert_keeps(text.bytes, text.size, &r);
    kept_free(&text);
    struct rig_plan plan = { .branches = 300, .floods = 212 };
    struct tc_problem why;
    assert_int_equal(rig_new_write(kept_sink(&text), &plan, &why), TC_OK);
    assert_keeps(text.bytes, text.size, &r);
    kept_free(&text);
    assert_true(tried > 3);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_changes_changes_and_nothing_else),
        cmocka_unit_test(what_is_no_rig_file_is_refused),
        cmocka_unit_test(any_rig_file_takes_any_change),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
