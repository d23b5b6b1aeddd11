/* A host that has called setlocale, as programs with windows do, gets and gives
 * the same bytes: '.' is the decimal point in every file. A German locale is
 * made from Debian's package locales, in a folder of its own. */
#include "check.h"
#include "kept.h"

#include <locale.h>
#include <unistd.h>

#include "scratch.h"
#include "thundercue.h"

static void keep_line(struct kept *t, const char *line)
{
    kept_write(t, line, strlen(line));
    kept_write(t, "\n", 1);
}

static const char rig_text[] =
    "[rig]\nname = Mill pond\nmains_volts = 117.5\nmains_hz = 59.9\n[circuit left]\nbreaker_amps = 12.5\n"
    "[channel 1]\nname = trunk\nkind = branch\nwatts = 4.75\ncircuit = left\nmin_level = 12.5\nmax_level = 98.5\n"
    "[channel 2]\nname = flood\nkind = flood\nwatts = 15.5\ncircuit = left\ncurve = lstar\n";
static const char *const wrong_rigs[] = {
    "[rig]\nname = x\n[circuit left]\nbreaker_amps = 12.5\n[channel 1]\nkind = branch\nwatts = -4.5\ncircuit = left\n",
    ("[rig]\nname = x\n[circuit left]\nbreaker_amps = 12.5\n[channel 1]\nkind = branch\nwatts = 4.5\ncircuit = left\n"
     "min_level = 12.5\nmax_level = 11.5\n"),
    "[rig]\nname = x\n[circuit left]\nbreaker_amps = 0.01\n",
};
static const char settings_text[] = "sensitivity = 61.5\nstroke-stop = 0.4\ninterval-spread = 0.31\nlead = 12.5\n"
                                    "shift = 1.25\nglow-chance = 0.5\n";

/* Everything that goes in and out as text, one after the other. */
static struct kept all_texts(void)
{
    struct kept t = { NULL, 0 };
    struct tc_sink sink = kept_sink(&t);
    struct tc_problem why = { "" };
    struct tc_settings s = tc_settings_default();
    struct tc_rig rig;
    char line[200];

    if (tc_settings_read(settings_text, sizeof settings_text - 1, "x.settings", &s, &why) != TC_OK)
        fail_msg("%s", why.text);
    assert_near(s.sensitivity, 61.5, 0);
    assert_near(s.shift_s, 1.25, 0);
    assert_int_equal(tc_settings_write(&s, true, sink, NULL), TC_OK);
    assert_int_equal(tc_settings_set(&s, "stroke-stop", "0.01", &why), TC_ERR_USAGE);
    keep_line(&t, why.text);
    assert_int_equal(tc_settings_set(&s, "stroke-stop", "0,4", &why), TC_ERR_USAGE);
    keep_line(&t, why.text);
    s.stroke_stop = 0.025;
    assert_int_equal(tc_settings_check(&s, &why), TC_ERR_USAGE);
    keep_line(&t, why.text);
    s.stroke_stop = 0.4;
    s.from_s = 2.5;
    s.to_s = 1.5;
    assert_int_equal(tc_settings_check(&s, &why), TC_ERR_USAGE);
    keep_line(&t, why.text);
    s.from_s = s.to_s = 0;

    for (size_t i = 0; i < COUNT(wrong_rigs); i++) {
        assert_int_equal(tc_rig_read(wrong_rigs[i], strlen(wrong_rigs[i]), "wrong.rig", &rig, &why), TC_ERR_RIG);
        keep_line(&t, why.text);
    }
    if (tc_rig_read(rig_text, sizeof rig_text - 1, "mill.rig", &rig, &why) != TC_OK) fail_msg("%s", why.text);
    assert_int_equal(tc_rig_write(&rig, sink, NULL), TC_OK);
    assert_near(rig.mains_volts, 117.5, 0);
    assert_near(rig.channels[0].watts, 4.75, 0);
    assert_near(rig.channels[0].min_level, 12.5, 0);

    static float samples[22050 * 6];
    uint32_t state = 1;
    for (size_t i = 0; i < COUNT(samples); i++) {
        state = state * 1664525u + 1013904223u;
        samples[i] = (float)(((double)(state >> 8) / (1 << 23) - 1) * (0.001 + 0.5 * exp(-(double)(i % 40000) / 3000)));
    }
    struct tc_analysis heard;
    struct tc_timeline plan;
    assert_int_equal(tc_listen(samples, COUNT(samples), 22050, 1, &s, NULL, &heard), TC_OK);
    assert_true(heard.event_count > 1);
    assert_int_equal(tc_events_write(&heard, sink, NULL), TC_OK);
    assert_int_equal(tc_cue(&heard, &rig, &s, NULL, &plan, NULL), TC_OK);
    assert_int_equal(tc_frames_write(&plan, &rig, &s, NULL, sink, NULL), TC_OK);
    assert_int_equal(tc_ramps_write(&plan, &rig, &s, NULL, sink, NULL), TC_OK);
    snprintf(line, sizeof line, "%zu strokes", plan.stroke_count);
    keep_line(&t, line);
    tc_timeline_clear(&plan);
    tc_analysis_clear(&heard);
    tc_rig_clear(&rig);
    return t;
}

static void a_host_in_germany_reads_and_writes_the_same_bytes(void **state)
{
    (void)state;
    char folder[200], command[600];
    struct kept here = all_texts();
    scratch_make(folder, sizeof folder);
    snprintf(command, sizeof command, "localedef -i de_DE -f UTF-8 '%s/de_DE.UTF-8' >'%s/log' 2>&1", folder, folder);
    if (system(command) == 0) setenv("LOCPATH", folder, 1);
    bool found = setlocale(LC_ALL, "de_DE.UTF-8") != NULL;
    scratch_remove(folder);
    if (!found) {
        free(here.bytes);
        print_message("there is no German locale and none can be made (Debian: locales), skipped\n");
        skip();
    }
    assert_string_equal(localeconv()->decimal_point, ",");
    struct kept there = all_texts();
    setlocale(LC_ALL, "C");
    unsetenv("LOCPATH");
    assert_int_equal(here.size, there.size);
    for (size_t i = 0; i < here.size; i++)
        if (here.bytes[i] != there.bytes[i]) {
            size_t from = i > 60 ? i - 60 : 0;
            fail_msg("byte %zu: '...%.80s' became '...%.80s'", i, here.bytes + from, there.bytes + from);
        }
    free(here.bytes);
    free(there.bytes);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(a_host_in_germany_reads_and_writes_the_same_bytes) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
