/* What thundercue remembers of the files that it wrote. */
#include "check.h"
#include "scratch.h"

#include "io/files/digest.h"
#include "io/files/ledger.h"

static uint64_t put(const char *name, const char *text)
{
    uint64_t digest = 0;
    scratch_put(name, text);
    assert_true(digest_file(&digest, scratch_at(name), NULL));
    return digest;
}

static enum ledger_word look(const char *name)
{
    struct ledger *l;
    assert_int_equal(ledger_open(&l, scratch_folder(), NULL), TC_OK);
    enum ledger_word word = ledger_look(l, scratch_at(name));
    ledger_close(l);
    return word;
}

static void note(const char *name, uint64_t digest, bool done)
{
    struct ledger *l;
    assert_int_equal(ledger_hold(&l, scratch_folder(), NULL), TC_OK);
    assert_int_equal(ledger_note(l, scratch_at(name), digest, NULL), TC_OK);
    assert_int_equal(ledger_settle(l, NULL), TC_OK);
    if (done) ledger_noted(l, scratch_at(name), digest);
    ledger_close(l);
}

static void the_digest_is_xxh3(void **state)
{
    (void)state;
    /* xxHash's own sanity checks: XXH3, 64 bits, seed 0, no bytes */
    assert_true(digest_bytes(0, "", 0) == 0x2D06800538D394C2u);
    assert_true(digest_text(0, "a") != digest_text(0, "b"));
}

static void edits_and_strangers_are_told_from_our_own(void **state)
{
    (void)state;
    static const char *const names[] = { "a.events.csv", "two words.csv", "100%.csv", "line\nbreak.csv", "\xFF.csv", "%41.csv" };
    for (size_t i = 0; i < COUNT(names); i++) {
        assert_int_equal(look(names[i]), LEDGER_ABSENT);
        uint64_t first = put(names[i], "first");
        assert_int_equal(look(names[i]), LEDGER_UNKNOWN);
        note(names[i], first, true);
        assert_int_equal(look(names[i]), LEDGER_OURS);
        put(names[i], "edited");
        assert_int_equal(look(names[i]), LEDGER_EDITED);
        put(names[i], "first");
        assert_int_equal(look(names[i]), LEDGER_OURS);
    }
    ledger_tidy(scratch_folder());
    for (size_t i = 0; i < COUNT(names); i++) assert_int_equal(look(names[i]), LEDGER_OURS);
}

/* Killed between the note and the naming: either content is ours, nothing else. */
static void a_kill_leaves_both_contents_known(void **state)
{
    (void)state;
    uint64_t second = put("a.csv", "second"), first = put("a.csv", "first");
    note("a.csv", first, true);
    note("a.csv", second, false);
    assert_int_equal(look("a.csv"), LEDGER_OURS);
    put("a.csv", "second");
    assert_int_equal(look("a.csv"), LEDGER_OURS);
    ledger_tidy(scratch_folder()); /* leaves what is in doubt */
    put("a.csv", "first");
    assert_int_equal(look("a.csv"), LEDGER_OURS);
    put("a.csv", "edited");
    assert_int_equal(look("a.csv"), LEDGER_EDITED);
    note("a.csv", second, true);
    put("a.csv", "first"); /* an older one put back by hand is an edit */
    assert_int_equal(look("a.csv"), LEDGER_EDITED);
}

/* A ledger that was cut or garbled makes files unknown, never ours by mistake. */
static void a_garbled_ledger_gives_nothing_away(void **state)
{
    (void)state;
    uint64_t first = put("a.csv", "first");
    note("a.csv", first, true);
    put("a.csv", "edited");
    size_t size = 0;
    char *text = scratch_read(scratch_at(".thundercue"), &size);
    assert_non_null(text);
    for (size_t cut = 0; cut <= size; cut++) {
        FILE *out = fopen(scratch_at(".thundercue"), "wb");
        fwrite(text, 1, cut, out);
        fclose(out);
        enum ledger_word word = look("a.csv");
        assert_true(word == LEDGER_UNKNOWN || word == LEDGER_EDITED);
    }
    free(text);
}

/* A disk that was full tore the last line: what is noted next is not lost with it. */
static void a_torn_line_does_not_swallow_the_next(void **state)
{
    (void)state;
    FILE *out = fopen(scratch_at(".thundercue"), "wb");
    fputs("wrote 0123456789abcdef b.csv\nwrites 01234567", out);
    fclose(out);
    note("a.csv", put("a.csv", "first"), false);
    assert_int_equal(look("a.csv"), LEDGER_OURS);
    size_t size = 0;
    char *text = scratch_read(scratch_at(".thundercue"), &size);
    assert_non_null(strstr(text, "b.csv\nwrites 01234567\nwrites "));
    free(text);
}

/* Of each name the last line is kept, in order of names. */
static void tidying_keeps_the_last_of_each_name(void **state)
{
    (void)state;
    put("a.csv", "a");
    put("b.csv", "b");
    FILE *out = fopen(scratch_at(".thundercue"), "wb");
    for (int i = 0; i < 20000; i++) fprintf(out, "wrote %016x %c.csv\n", i, "ba"[i % 2]);
    fclose(out);
    ledger_tidy(scratch_folder());
    size_t size = 0;
    char *text = scratch_read(scratch_at(".thundercue"), &size);
    assert_string_equal(text, "wrote 0000000000004e1f a.csv\nwrote 0000000000004e1e b.csv\n");
    free(text);
}

/* Somebody's own file of that name is neither read as a ledger nor written to. */
static void what_is_no_ledger_is_left_alone(void **state)
{
    (void)state;
    static const char *const texts[] = { "seed = 3\n", "[rig]\nname = wrote\n", "w = 1\n", "{}" };
    struct ledger *l;
    struct tc_problem why;
    for (size_t i = 0; i < COUNT(texts); i++) {
        put(".thundercue", texts[i]);
        assert_int_equal(ledger_open(&l, scratch_folder(), &why), TC_ERR_WRITE);
        assert_non_null(strstr(why.text, ".thundercue: is something else"));
        assert_int_equal(ledger_hold(&l, scratch_folder(), &why), TC_ERR_WRITE);
        ledger_tidy(scratch_folder());
        size_t size = 0;
        char *text = scratch_read(scratch_at(".thundercue"), &size);
        assert_string_equal(text, texts[i]);
        free(text);
    }
    unlink(scratch_at(".thundercue"));
    assert_int_equal(mkfifo(scratch_at(".thundercue"), 0600), 0); /* without waiting for its other end */
    assert_int_equal(ledger_open(&l, scratch_folder(), &why), TC_ERR_WRITE);
    assert_non_null(strstr(why.text, "is not a file"));
    assert_int_equal(ledger_hold(&l, scratch_folder(), &why), TC_ERR_WRITE);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, scratch_set_up, scratch_tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(the_digest_is_xxh3),
        TEST(edits_and_strangers_are_told_from_our_own),
        TEST(a_kill_leaves_both_contents_known),
        TEST(a_garbled_ledger_gives_nothing_away),
        TEST(a_torn_line_does_not_swallow_the_next),
        TEST(tidying_keeps_the_last_of_each_name),
        TEST(what_is_no_ledger_is_left_alone),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
