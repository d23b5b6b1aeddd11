/* A rig that is written reads back as the same rig. */
#include "check.h"
#include "kept.h"
#include "rigs.h"

#include <glob.h>

#include "scratch.h"
#include "thundercue.h"

static struct kept text;
static const struct tc_sink sink = { kept_write, &text };

/* All values of a rig that is read from what was written of it. */
static void assert_reads_back(const struct tc_rig *rig)
{
    struct tc_rig again;
    struct tc_problem why = { "" };
    text.size = 0;
    assert_int_equal(tc_rig_write(rig, sink, NULL), TC_OK);
    if (tc_rig_read(text.bytes, text.size, "again.rig", &again, &why) != TC_OK)
        fail_msg("%s\n%s", why.text, text.bytes);
    assert_same_rig(&again, rig);
    tc_rig_clear(&again);
}

static void every_rig_file_at_hand_reads_back(void **state)
{
    (void)state;
    static const char *const patterns[] = { "samples/*.rig", "tests/fuzz/corpus/rig/*.rig" };
    int read = 0;
    for (size_t p = 0; p < COUNT(patterns); p++) {
        glob_t found;
        if (glob(patterns[p], 0, NULL, &found)) continue;
        for (size_t i = 0; i < found.gl_pathc; i++) {
            size_t size = 0;
            char *bytes = scratch_read(found.gl_pathv[i], &size);
            struct tc_rig rig;
            assert_non_null(bytes);
            if (tc_rig_read(bytes, size, "some.rig", &rig, NULL) == TC_OK) {
                assert_reads_back(&rig);
                tc_rig_clear(&rig);
                read++;
            }
            free(bytes);
        }
        globfree(&found);
    }
    if (!read) {
        print_message("not run from the checkout's top folder, skipped\n");
        skip();
    }
    assert_true(read >= 5);
}

static void feet_and_pounds_banks_groups_and_network_read_back(void **state)
{
    (void)state;
    static const char file[] =
        "[rig]\nname = All of it\nmains_volts = 117.3\n[network]\nuniverse = 7\npriority = 0\nto = 10.0.0.7\n"
        "[circuit left; right]\nbreaker_amps = 12.7\nvolts = 230\n"
        "[bank one]\nfirst = 1\nlast = 2\nmax_amps = 7.3\n[overhead]\nspan_ft = 47.3\nsag_in = 31.7\ncentre_lb = 3.3\n"
        "breaking_lb = 2900.7\nknot = bowline\ndesign_factor = 11.3\n"
        "[channel 3]\nname = a;b\nkind = branch\nwatts = 0.1\ncircuit = left; right\ncord_length_ft = 33.3\n"
        "cord_awg = 16\nlamp = incandescent\nrise_ms = 0.3\nx = 0\ny = 62.4\nstart_x = 41\nstart_y = 100\n"
        "[channel 9]\nkind = branch\nparent = 3\nwatts = 5\ncircuit = left; right\ngroup = gate\n"
        "min_level = 12.34567890123\nslot = 40\ncurve = lstar\nfork = 1\nx = 33.3\ny = 0\n";
    struct tc_rig rig;
    struct tc_problem why = { "" };
    if (tc_rig_read(file, sizeof file - 1, "all.rig", &rig, &why) != TC_OK) fail_msg("%s", why.text);
    assert_reads_back(&rig);
    strcpy(rig.channels[0].name, "two\nlines");
    assert_int_equal(tc_rig_write(&rig, sink, &why), TC_ERR_USAGE);
    assert_non_null(strstr(why.text, "the name 'two?lines' can't stand in a rig file: there it is one line"));
    strcpy(rig.channels[0].name, "with ; a comment");
    assert_int_equal(tc_rig_write(&rig, sink, &why), TC_ERR_USAGE);
    assert_non_null(strstr(why.text, "the name 'with ; a comment' can't stand in a rig file"));
    strcpy(rig.channels[0].name, "whole");
    strcpy(rig.circuits[0].name, "left]");
    assert_int_equal(tc_rig_write(&rig, sink, &why), TC_ERR_USAGE);
    assert_non_null(strstr(why.text, "the circuit 'left]' can't stand in a rig file"));
    strcpy(rig.circuits[0].name, "left");
    rig.channels[1].circuit = -1;
    assert_int_equal(tc_rig_write(&rig, sink, &why), TC_ERR_RIG);
    assert_string_equal(why.text, "the rig's channels[1]: it is on no circuit, which a rig file needs");
    tc_rig_clear(&rig);
    assert_int_equal(tc_rig_builtin(&rig), TC_OK);
    assert_reads_back(&rig);
    tc_rig_clear(&rig);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_rig_file_at_hand_reads_back),
        cmocka_unit_test(feet_and_pounds_banks_groups_and_network_read_back),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
