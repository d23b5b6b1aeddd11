/* The settings table checks itself, and settings survive being written down. */
#include "check.h"

#include <unistd.h>

#include "io/files/read_form.h"
#include "io/files/stream.h"
#include "words/settings.h"
#include "words/status.h"

static void names_are_unique_and_presets_within_bounds(void **state)
{
    (void)state;
    for (size_t i = 0; i < setting_count(); i++) {
        const struct setting *row = setting_at(i);
        assert_ptr_equal(setting_find(row->name), row);
        assert_true(row->least <= row->preset && row->preset <= row->most);
        assert_true(row->offset < sizeof(struct tc_settings));
        assert_true(strlen(row->help) > 10);
        for (size_t j = 0; j < i; j++) assert_int_not_equal(setting_at(j)->offset, row->offset);
        if (row->zero) assert_true(row->least <= 0); /* the word must be allowed */
    }
    struct tc_settings s = tc_settings_default();
    struct tc_problem why;
    assert_int_equal(tc_settings_check(&s, &why), TC_OK);
}

static void every_setting_reads_what_it_writes(void **state)
{
    (void)state;
    for (size_t i = 0; i < setting_count(); i++) {
        const struct setting *row = setting_at(i);
        char bounds[2][40] = { "", "" }, value[40];
        if (row->type == SETTING_SWITCH) strcpy(bounds[0], "off"), strcpy(bounds[1], "on");
        else if (row->type == SETTING_CHOICE) strcpy(bounds[0], "percent"), strcpy(bounds[1], "8bit");
        else for (int b = 0; b < 2; b++) snprintf(bounds[b], sizeof bounds[b], "%.17g", b ? row->most : row->least);
        if (row->zero && (row->type == SETTING_WHOLE || strcmp(row->zero, "off")))
            snprintf(bounds[0], sizeof bounds[0], "%.*s", (int)strcspn(row->zero, "|"), row->zero);
        for (int b = 0; b < 2; b++) {
            struct tc_settings s = tc_settings_default(), again = s;
            struct tc_problem why = { "" };
            if (tc_settings_set(&s, row->name, bounds[b], &why) != TC_OK) fail_msg("%s", why.text);
            setting_value(row, &s, value, sizeof value);
            if (tc_settings_set(&again, row->name, value, &why) != TC_OK) fail_msg("%s", why.text);
            assert_memory_equal(&s, &again, sizeof s);
        }
    }
}

static void wrong_values_are_refused_with_what_would_be_right(void **state)
{
    (void)state;
    static const struct { const char *name, *value, *says; } rows[] = {
        { "sensitivity", "101", "0 to 100" },      { "sensitivity", "", "0 to 100" },
        { "sensitivity", "nan", "0 to 100" },      { "sensitivity", "5x", "0 to 100" },
        { "sensitivity", "0x10", "0 to 100" },     { "frame-rate", "0", "1 to 120" },
        { "frame-rate", "40.5", "1 to 120" },      { "levels", "16bit", "percent|8bit" },
        { "flash-limit", "0", "1 to 3" },
        { "flash-limit", "4", "or off" },          { "flash-limit", "-1", "or off" },
        { "loop", "yes", "on or off" },            { "seed", "-1", "from 0 to 9007199254740991" },
        { "seed", "99999999999999999999", "from 0 to 9007199254740991" }, { "lead", "1e9", "5000 ms" },
        { "outputs", "0", "rig|all, or 2 to 512" }, { "outputs", "1", "rig|all" }, { "outputs", "513", "2 to 512" },
        { "outputs", "rig|all", "2 to 512" },      { "to", "0", "above 0" },                  { "from", "-1", "out of bounds: 0 to" },
        { "flash-limit", "1.5", "a whole number, 1 to 3 per second, or off" },
        { "colour", "red", "no such setting" },
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        struct tc_settings s = tc_settings_default(), before = s;
        struct tc_problem why = { "" };
        assert_int_equal(tc_settings_set(&s, rows[i].name, rows[i].value, &why), TC_ERR_USAGE);
        if (!strstr(why.text, rows[i].says)) fail_msg("'%s' does not say '%s'", why.text, rows[i].says);
        assert_memory_equal(&s, &before, sizeof s);
    }
}

static void contradictions_are_refused(void **state)
{
    (void)state;
    struct tc_settings s = tc_settings_default();
    struct tc_problem why;
    s.from_s = 5;
    s.to_s = 5;
    assert_int_equal(tc_settings_check(&s, &why), TC_ERR_USAGE);
    s = tc_settings_default();
    s.far_sharpness = s.near_sharpness;
    assert_int_equal(tc_settings_check(&s, &why), TC_ERR_USAGE);
    s = tc_settings_default();
    s.decay_ms = NAN;
    assert_int_equal(tc_settings_check(&s, &why), TC_ERR_USAGE);
}

/* A file in the build's own temporary folder, with this text. */
static void write_file(char *path, const char *text)
{
    strcpy(path, "/tmp/thundercue-test-XXXXXX");
    int fd = mkstemp(path);
    assert_true(fd >= 0);
    FILE *out = fdopen(fd, "w");
    fputs(text, out);
    assert_int_equal(fclose(out), 0);
}

static void a_settings_file_reads_back(void **state)
{
    (void)state;
    struct tc_settings s = tc_settings_default(), again = s;
    struct tc_problem why = { "" };
    s.sensitivity = 62.5;
    s.flash_limit = 0;
    s.levels = TC_LEVELS_8BIT;
    s.loop = true;
    char path[64];
    write_file(path, "");
    for (int all = 0; all < 2; all++) {
        FILE *out = fopen(path, "w");
        tc_settings_write(&s, all, stream_sink(out), NULL);
        fclose(out);
        if (read_settings(path, &again, &why) != TC_OK) fail_msg("%s", why.text);
        assert_memory_equal(&s, &again, sizeof s);
    }
    unlink(path);
}

static void wrong_settings_files_name_their_line(void **state)
{
    (void)state;
    static const struct { const char *text, *says; } rows[] = {
        { "sensitivity = 50\nsensitivty = 60\n", ":2: sensitivty: there is no such setting" },
        { "; a remark\n\nseed = x\n", ":3: seed: 'x' is not" },
        { "[thunder]\nseed = 1\n", ":1: a settings file has no sections like [thunder]" },
        { "seed 1\n", ":1:" },
        { "seed = x\nlead = 5\n", ":1: seed: 'x' is not" },
        { "seed = x\nlead = y\n", ":1: seed: 'x' is not" },
        { "seed 1\nlead = y\n", ":1: write: seed = 1" },
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        struct tc_settings s = tc_settings_default();
        struct tc_problem why = { "" };
        char path[64];
        write_file(path, rows[i].text);
        assert_int_equal(read_settings(path, &s, &why), TC_ERR_FORM);
        if (!strstr(why.text, rows[i].says)) fail_msg("'%s' does not say '%s'", why.text, rows[i].says);
        unlink(path);
    }
    struct tc_settings s = tc_settings_default();
    struct tc_problem why;
    assert_int_equal(read_settings("/nowhere/at/all", &s, &why), TC_ERR_FORM);
}

static void every_status_has_its_words(void **state)
{
    (void)state;
    for (int i = 0; i < TC_STATUS_COUNT; i++) {
        assert_true(strlen(tc_status_text((enum tc_status)i)) > 0);
        for (int j = 0; j < i; j++)
            assert_string_not_equal(tc_status_text((enum tc_status)i), tc_status_text((enum tc_status)j));
    }
    assert_string_equal(tc_status_text((enum tc_status)99), "unknown status");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(names_are_unique_and_presets_within_bounds),
        cmocka_unit_test(every_setting_reads_what_it_writes),
        cmocka_unit_test(wrong_values_are_refused_with_what_would_be_right),
        cmocka_unit_test(contradictions_are_refused),
        cmocka_unit_test(a_settings_file_reads_back),
        cmocka_unit_test(wrong_settings_files_name_their_line),
        cmocka_unit_test(every_status_has_its_words),
    };
    return cmocka_run_group_tests_name("settings", tests, NULL, NULL);
}
