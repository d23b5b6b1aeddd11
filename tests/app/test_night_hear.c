/* How the recordings of an evening come to be known: each heard in a process of
 * its own, remembered for the next evening, and overruled by edited events. */
#include "evening.h"

#include <signal.h>
#include <sndfile.h>

#include "app/night/night_hear.h"
#include "app/night/night_pack.h"
#include "io/files/digest.h"
#include "io/files/ledger.h"

/* ---- A decoder that crashes (the linker's --wrap) ---- */

static pid_t parent;
static bool deadly_apart; /* every decoder crashes in a process of its own */
enum { DEADLY_FRAMES = 9001 };

sf_count_t __real_sf_readf_float(SNDFILE *f, float *to, sf_count_t n);
sf_count_t __wrap_sf_readf_float(SNDFILE *f, float *to, sf_count_t n);
sf_count_t __wrap_sf_readf_float(SNDFILE *f, float *to, sf_count_t n)
{
    SF_INFO info = { 0 };
    sf_command(f, SFC_GET_CURRENT_SF_INFO, &info, sizeof info);
    if (info.frames == DEADLY_FRAMES || (deadly_apart && getpid() != parent)) {
        signal(SIGABRT, SIG_DFL);
        raise(SIGABRT);
    }
    return __real_sf_readf_float(f, to, n);
}

static void a_decoder_that_crashes_costs_its_recording_alone(void **state)
{
    (void)state;
    struct evening e = evening_begin();
    add_storm(&e, "deadly.wav", 1, 9001, 1, 5);
    if (build(&e, NULL, JOINED_FLAC) != TC_OK) fail_msg("%s", e.why.text);
    assert_int_equal(e.out.recording_count, 5);
    assert_int_equal(e.out.left_out, 2); /* the broken one, and this */
    size_t said = 0;
    for (size_t i = 3; i < 5; i++)
        said += strstr(e.out.recordings[i].note.text, "deadly.wav: hearing it crashed") != NULL;
    assert_int_equal(said, 1);
    assert_true(e.out.light.cracks > 10);
    evening_end(&e);
}

/* ---- Memory ---- */

static char *bytes_of(const struct evening *e, const char *name, size_t *size)
{
    char path[600];
    snprintf(path, sizeof path, "%s/%s", e->folder, name);
    char *bytes = scratch_read(path, size);
    assert_non_null(bytes);
    return bytes;
}

static void save(const struct evening *e, const char *name, const char *bytes, size_t size)
{
    char path[600];
    snprintf(path, sizeof path, "%s/%s", e->folder, name);
    FILE *out = fopen(path, "wb");
    assert_non_null(out);
    assert_int_equal(fwrite(bytes, 1, size, out), size);
    fclose(out);
}

static void rename_evening(struct evening *e, const char *name)
{
    forget(e);
    snprintf(e->name, sizeof e->name, "%s/%s", e->folder, name);
}

static void expect_same_events(const struct evening *e, const char *one, const char *other)
{
    size_t n, m;
    char *a = bytes_of(e, one, &n), *b = bytes_of(e, other, &m);
    assert_int_equal(n, m);
    assert_memory_equal(a, b, n);
    free(a);
    free(b);
}

static void what_was_heard_is_known_the_next_time(void **state)
{
    (void)state;
    struct evening e = evening_begin();
    assert_int_equal(build(&e, NULL, JOINED_FLAC), TC_OK);
    rename_evening(&e, "again");
    deadly_apart = true; /* whoever listens again loses all */
    if (build(&e, NULL, JOINED_FLAC) != TC_OK) fail_msg("%s", e.why.text);
    assert_int_equal(e.out.left_out, 1);
    expect_same_events(&e, "eve.events.csv", "again.events.csv");
    /* Another sensitivity is heard anew, and so is another content under the same name. */
    rename_evening(&e, "keener");
    e.settings.sensitivity = 70;
    assert_int_equal(build(&e, NULL, JOINED_FLAC), TC_ERR_READ);
    rename_evening(&e, "changed");
    e.settings = tc_settings_default();
    add_storm(&e, "b.wav", 2, 44100, 7.1, 99);
    assert_int_equal(build(&e, NULL, JOINED_FLAC), TC_OK);
    assert_int_equal(e.out.left_out, 2);
    deadly_apart = false;
    /* Cueing and loudness may change without listening. */
    rename_evening(&e, "brighter");
    e.settings.strength = 0.5;
    assert_int_equal(build(&e, NULL, JOINED_FLAC), TC_OK);
    evening_end(&e);
}

static void a_damaged_memory_is_as_good_as_none(void **state)
{
    (void)state;
    struct evening e = evening_begin();
    assert_int_equal(build(&e, NULL, JOINED_FLAC), TC_OK);
    size_t size;
    char *good = bytes_of(&e, ".thundercue.heard", &size);
    assert_true(size > 1000 && size < 100000);
    char name[32], events[64];
    for (int i = 1; i < 24; i += 4) { /* cut, flipped, overwritten, at six places */
        char *bad = malloc(size);
        memcpy(bad, good, size);
        size_t cut = i % 3 == 0 ? size * (size_t)i / 24 : size;
        if (i % 3 == 1) bad[size * (size_t)i / 24] ^= 0x40;
        if (i % 3 == 2) memset(bad + size * (size_t)i / 24, 0xff, size - size * (size_t)i / 24);
        save(&e, ".thundercue.heard", bad, cut);
        free(bad);
        snprintf(name, sizeof name, "bad%d", i);
        snprintf(events, sizeof events, "%s.events.csv", name);
        rename_evening(&e, name);
        if (build(&e, NULL, JOINED_FLAC) != TC_OK) fail_msg("%s", e.why.text);
        expect_same_events(&e, "eve.events.csv", events);
    }
    free(good);
    evening_end(&e);
}

static void unpacking_refuses_what_does_not_add_up(void **state)
{
    (void)state;
    struct evening e = evening_begin();
    assert_int_equal(build(&e, NULL, JOINED_FLAC), TC_OK);
    char *bytes;
    size_t size;
    assert_int_equal(night_pack(&e.out.recordings[0], &bytes, &size), TC_OK);
    for (size_t n = 0; n < size; n += 1 + n / 50) { /* a copy of its own, so that a read behind it is seen */
        char *part = malloc(n + 1);
        memcpy(part, bytes, n);
        struct night_recording r = { 0 };
        assert_int_equal(night_unpack(&r, part, n), TC_ERR_FORM);
        assert_null(r.heard.events);
        free(part);
    }
    struct night_recording r = { 0 };
    assert_int_equal(night_unpack(&r, bytes, size), TC_OK);
    const struct tc_analysis *a = &e.out.recordings[0].heard;
    assert_int_equal(r.heard.event_count, a->event_count);
    assert_int_equal(r.heard.candidate_count, a->candidate_count);
    assert_true(r.lufs == e.out.recordings[0].lufs && r.frames == e.out.recordings[0].frames);
    assert_memory_equal(r.heard.envelope, a->envelope, a->envelope_count);
    tc_analysis_clear(&r.heard);
    free(bytes);
    evening_end(&e);
}

/* ---- Edited events ---- */

static size_t cracks_of(const struct evening *e, const char *file)
{
    size_t cracks = 0;
    for (size_t i = 0; i < e->out.recording_count; i++) {
        const struct tc_analysis *a = &e->out.recordings[i].heard;
        if (strcmp(e->out.recordings[i].file, file)) continue;
        for (size_t k = 0; k < a->event_count; k++) cracks += a->events[k].kind == TC_CRACK;
    }
    return cracks;
}

static void edited_events_take_the_place_of_what_is_heard(void **state)
{
    (void)state;
    struct evening e = evening_begin();
    static const char mine[] = "kind,start_s,end_s,strength\ncrack,1.000,1.1,1\ncrack,2.500,2.6,0.5\n";
    static const char wrong[] = "kind,start_s,end_s,path\ncrack,1.000,1.1,77\n";
    save(&e, "clips/a.events.csv", mine, sizeof mine - 1);
    assert_int_equal(build(&e, NULL, JOINED_FLAC), TC_OK);
    assert_int_equal(cracks_of(&e, "a.wav"), 2);
    assert_true(cracks_of(&e, "b.wav") > 2);
    size_t told = 0;
    for (size_t i = 0; i < 3; i++) told += strstr(e.out.recordings[i].note.text, "clips/a.events.csv") != NULL;
    assert_int_equal(told, 1);
    /* One that goes through a channel that the rig hasn't got is refused by name. */
    rename_evening(&e, "wrong");
    save(&e, "clips/a.events.csv", wrong, sizeof wrong - 1);
    assert_int_equal(build(&e, NULL, JOINED_FLAC), TC_ERR_FORM);
    assert_non_null(strstr(e.why.text, "a.events.csv"));
    assert_non_null(strstr(e.why.text, "channel 77 is not in the rig"));
    /* One that is as thundercue wrote it says nothing new. */
    struct ledger *l;
    char folder[600], path[700];
    snprintf(folder, sizeof folder, "%s/clips", e.folder);
    snprintf(path, sizeof path, "%s/a.events.csv", folder);
    rename_evening(&e, "own");
    save(&e, "clips/a.events.csv", mine, sizeof mine - 1);
    uint64_t digest = 0;
    assert_true(digest_file(&digest, path, NULL));
    assert_int_equal(ledger_hold(&l, folder, NULL), TC_OK);
    assert_int_equal(ledger_note(l, path, digest, NULL), TC_OK);
    ledger_close(l);
    assert_int_equal(build(&e, NULL, JOINED_FLAC), TC_OK);
    assert_true(cracks_of(&e, "a.wav") > 2);
    evening_end(&e);
}

/* The names that a batch of the folder gives: in full for two that differ in
 * ending and capitals alone; a file that can't be opened makes none. */
static void edited_events_are_found_under_the_names_of_a_batch(void **state)
{
    (void)state;
    struct evening e = evening_begin();
    static const char mine[] = "kind,start_s,end_s,strength\ncrack,1.000,1.1,1\ncrack,2.500,2.6,0.5\n";
    add_storm(&e, "A.aiff", 1, 22050, 6, 11);
    save(&e, "clips/b.flac", "none", 4);
    save(&e, "clips/a.wav.events.csv", mine, sizeof mine - 1);
    save(&e, "clips/a.events.csv", "kind,start_s\n", 13); /* of nobody */
    save(&e, "clips/b.events.csv", mine, sizeof mine - 1);
    if (build(&e, NULL, JOINED_FLAC) != TC_OK) fail_msg("%s", e.why.text);
    assert_int_equal(cracks_of(&e, "a.wav"), 2);
    assert_int_equal(cracks_of(&e, "b.wav"), 2);
    assert_true(cracks_of(&e, "A.aiff") > 2);
    evening_end(&e);
}

/* More than the memory has room for at first: it moves, while others look. */
static void many_recordings_are_heard_and_known(void **state)
{
    (void)state;
    struct evening e = evening_begin();
    char file[32];
    for (int i = 0; i < 80; i++) {
        snprintf(file, sizeof file, "many%d.wav", i);
        add_storm(&e, file, 1, 8000, 2, (uint32_t)i + 20);
    }
    assert_int_equal(build(&e, NULL, JOINED_FLAC), TC_OK);
    assert_int_equal(e.out.left_out, 1);
    rename_evening(&e, "again");
    deadly_apart = true;
    assert_int_equal(build(&e, NULL, JOINED_FLAC), TC_OK);
    deadly_apart = false;
    assert_int_equal(e.out.left_out, 1);
    evening_end(&e);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_decoder_that_crashes_costs_its_recording_alone),
        cmocka_unit_test(what_was_heard_is_known_the_next_time),
        cmocka_unit_test(a_damaged_memory_is_as_good_as_none),
        cmocka_unit_test(unpacking_refuses_what_does_not_add_up),
        cmocka_unit_test(edited_events_take_the_place_of_what_is_heard),
        cmocka_unit_test(edited_events_are_found_under_the_names_of_a_batch),
        cmocka_unit_test(many_recordings_are_heard_and_known),
    };
    parent = getpid();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
