/* The preview's writer and the columns. How the page looks and behaves in a
 * browser is tested in tests/page/. */
#include "check.h"

#include "app/clip/preview.h"
#include "scratch.h"
#include "writing/columns.h"

/* ---- A small show to write ---- */

struct show {
    struct tc_channel channels[TC_MAX_CHANNELS];
    struct tc_circuit circuit;
    struct tc_rig rig;
    struct tc_settings settings;
    struct tc_analysis heard;
    struct tc_timeline timeline;
    struct columns columns;
    struct flash_report flash;
    struct load_row circuit_load;
    struct load_report load;
    struct page_ramps *ramps;
};

static void show_make(struct show *s, size_t channels, uint32_t frames)
{
    memset(s, 0, sizeof *s);
    s->settings = tc_settings_default();
    strcpy(s->circuit.name, "left");
    s->circuit.breaker_amps = 15;
    s->circuit.volts = 120;
    for (size_t i = 0; i < channels; i++) {
        struct tc_channel *c = &s->channels[i];
        c->number = (int)i + 1;
        snprintf(c->name, sizeof c->name, "branch %zu", i + 1);
        c->parent = i ? (int)(i - 1) / 2 : -1;
        c->watts = 5;
        c->max_level = 100;
    }
    s->rig = (struct tc_rig){ .name = "test rig", .channels = s->channels, .channel_count = channels,
                              .circuits = &s->circuit, .circuit_count = 1 };
    s->timeline.frame_rate = s->settings.frame_rate;
    s->timeline.frames = frames;
    s->heard.length_ms = (int64_t)frames * 1000 / s->settings.frame_rate;
    s->load.circuits = &s->circuit_load;
    assert_int_equal(columns_create(&s->columns, channels, frames), TC_OK);
    assert_int_equal(page_ramps_create(&s->ramps, channels), TC_OK);
}

static void show_clear(struct show *s)
{
    page_ramps_destroy(s->ramps);
    columns_clear(&s->columns);
}

static struct page_facts facts_of(struct show *s)
{
    return (struct page_facts){
        .title = "storm", .recording = "storm.wav", .command = "thundercue cue storm.wav", .rig = &s->rig,
        .settings = &s->settings, .heard = &s->heard, .timeline = &s->timeline, .columns = &s->columns,
        .flash = &s->flash, .load = &s->load, .sound_kind = "none",
    };
}

/* The page as one string, for the caller to free. */
static char *written(struct show *s, const struct page_facts *facts, FILE *sound, size_t *size)
{
    char *page = NULL;
    FILE *out = open_memstream(&page, size);
    assert_non_null(out);
    assert_int_equal(preview_write(s->ramps, out, facts, sound), TC_OK);
    assert_int_equal(fclose(out), 0);
    return page;
}

static size_t occurrences(const char *text, const char *word)
{
    size_t n = 0;
    for (const char *at = text; (at = strstr(at, word)); at += strlen(word)) n++;
    return n;
}

/* ---- The page ---- */

static void test_hostile_names_stay_within_their_element(void **state)
{
    (void)state;
    static struct show s;
    show_make(&s, 3, 100);
    struct page_facts facts = facts_of(&s);
    size_t size, plain_size;
    char *plain = written(&s, &facts, NULL, &plain_size);
    const char *evil = "</script><script>alert(1)</script><!--";
    strcpy(s.channels[1].name, evil);
    strcpy(s.rig.name, evil);
    strcpy(s.circuit.name, evil);
    facts.title = facts.recording = facts.command = evil;
    const char *const notes[] = { evil, "\xff\xfe broken UTF-8", NULL };
    facts.notes = notes;
    char *page = written(&s, &facts, NULL, &size);
    assert_int_equal(occurrences(page, "<script"), occurrences(plain, "<script"));
    assert_int_equal(occurrences(page, "</script"), occurrences(plain, "</script"));
    assert_int_equal(occurrences(page, "<!--"), 0);
    assert_true(occurrences(page, "\\u003c/script>") >= 6);
    /* every mark was filled in */
    assert_int_equal(occurrences(page, "\n@data\n") + occurrences(page, "\n@sound\n"), 0);
    free(page);
    free(plain);
    show_clear(&s);
}

static void test_places_are_in_the_data_where_the_rig_has_them(void **state)
{
    (void)state;
    static struct show s;
    show_make(&s, 3, 10);
    s.channels[0].placed = s.channels[0].start_placed = s.channels[1].placed = true;
    s.channels[0].x = 44.5;
    s.channels[0].start_y = 100;
    s.channels[1].y = 62;
    s.channels[1].fork = 60;
    struct page_facts facts = facts_of(&s);
    size_t size;
    char *page = written(&s, &facts, NULL, &size);
    assert_non_null(strstr(page, "\"max_level\":100,\"x\":44.5,\"y\":0,\"start_x\":0,\"start_y\":100}"));
    assert_non_null(strstr(page, "\"max_level\":100,\"x\":0,\"y\":62,\"fork\":60}"));
    assert_non_null(strstr(page, "\"max_level\":100}"));
    free(page);
    show_clear(&s);
}

/* RFC 4648, section 10, test vectors. */
static void test_sound_goes_in_as_base64(void **state)
{
    (void)state;
    static const struct { const char *bytes, *text; } rows[] = {
        { "f", "\nZg==\n" }, { "fo", "\nZm8=\n" }, { "foo", "\nZm9v\n" }, { "foob", "\nZm9vYg==\n" },
        { "fooba", "\nZm9vYmE=\n" }, { "foobar", "\nZm9vYmFy\n" },
    };
    static struct show s;
    show_make(&s, 1, 10);
    for (size_t i = 0; i < COUNT(rows); i++) {
        struct page_facts facts = facts_of(&s);
        size_t size;
        FILE *sound = tmpfile();
        assert_non_null(sound);
        fputs(rows[i].bytes, sound);
        rewind(sound);
        facts.sound_kind = "embedded";
        facts.sound_type = "audio/mpeg";
        char *page = written(&s, &facts, sound, &size);
        assert_non_null(strstr(page, rows[i].text));
        fclose(sound);
        free(page);
    }
    show_clear(&s);
}

static void test_a_page_is_under_3_mb_whatever_comes(void **state)
{
    (void)state;
    /* Every channel changes all the time, with a crack every two to six seconds, at 40 light frames a second. */
    enum { HOUR = 3600 * 40 };
    static const struct { size_t channels, cracks; uint32_t frames; bool mendable; } rows[] = {
        { 16, 18000, 10 * HOUR, false }, { TC_MAX_CHANNELS, 18000, 10 * HOUR, false }, { TC_MAX_CHANNELS, 6900, 10 * HOUR, false },
        { 16, 4000, 8 * HOUR, true },     { 16, 6900, 3 * HOUR, true },                  { TC_MAX_CHANNELS, 900, HOUR / 4, true },
    };
    static struct show s;
    for (size_t k = 0; k < COUNT(rows); k++) {
        size_t cracks = rows[k].cracks, channels = rows[k].channels;
        show_make(&s, channels, rows[k].frames);
        uint16_t levels[TC_MAX_CHANNELS];
        for (uint32_t f = 0; f < rows[k].frames; f++) {
            for (size_t c = 0; c < channels; c++) levels[c] = (uint16_t)((f * 7 + c * 13) % 1001);
            columns_step(&s.columns, levels, 3);
            struct ramp ramp = { .start = f, .end = f, .channel = (uint16_t)(f % channels),
                                 .end_level = (uint16_t)(f % 1001) };
            assert_int_equal(page_ramps_add(s.ramps, &ramp), TC_OK);
        }
        s.heard.events = calloc(cracks, sizeof *s.heard.events);
        s.timeline.strokes = calloc(3 * cracks, sizeof *s.timeline.strokes);
        s.heard.overview = calloc(1, sizeof *s.heard.overview);
        s.heard.candidates = calloc(cracks, sizeof *s.heard.candidates);
        s.heard.envelope = calloc(rows[k].frames, 1);
        assert_true(s.heard.events && s.timeline.strokes && s.heard.overview && s.heard.candidates && s.heard.envelope);
        s.heard.event_count = s.heard.candidate_count = cracks;
        s.heard.envelope_count = rows[k].frames;
        s.timeline.stroke_count = 3 * cracks;
        for (size_t i = 0; i < cracks; i++) {
            s.heard.events[i] = (struct tc_event){ .start_ms = (int64_t)i * 2000 + 137,
                                                   .end_ms = (int64_t)i * 2000 + 137,
                .peak_ms = (int64_t)i * 2000 + 137, .strength = (float)(i % 101) / 100, .sharpness = 0.37f,
                .level_dbfs = -37.5f };
            for (size_t j = 0; j < 3; j++) s.timeline.strokes[3 * i + j].frame = (uint32_t)(i * 80 + j * 13);
        }
        s.heard.overview->count = TC_OVERVIEW_COLUMNS;
        s.heard.overview->steps_each = 1758;
        memset(s.heard.overview->band, 99, sizeof s.heard.overview->band);
        struct page_facts facts = facts_of(&s);
        size_t size;
        char *page = written(&s, &facts, NULL, &size);
        assert_true(size < 3000000);
        assert_true(!strstr(page, "\"analysis\":") != rows[k].mendable);
        assert_true(!strstr(page, "\"closed\":\"this storm is too long") == rows[k].mendable);
        if (rows[k].frames > HOUR) assert_non_null(strstr(page, "\"kept\":false"));
        free(page);
        free(s.heard.events);
        free(s.timeline.strokes);
        free(s.heard.overview);
        free(s.heard.candidates);
        free(s.heard.envelope);
        show_clear(&s);
    }
}

/* ---- The way to the recording ---- */

static void touch(const char *path)
{
    FILE *f = fopen(path, "w");
    assert_non_null(f);
    fclose(f);
}

static void test_links_are_relative_and_escaped(void **state)
{
    (void)state;
    static const struct { const char *page, *file, *link; } rows[] = {
        { "a/b", "a/b/clap.wav", "./clap.wav" },
        { "a/b", "a/clap.wav", "../clap.wav" },
        { "a/b", "clap.wav", "../../clap.wav" },
        { "a/b", "a/bc/clap.wav", "../bc/clap.wav" },
        { "a", "a/b/clap.wav", "./b/clap.wav" },
        { "a/b", "a/b/50% #1?.wav", "./50%25%20%231%3F.wav" },      /* RFC 3986, 2.1 */
        { "a/b", "a/b/javascript:x.wav", "./javascript%3Ax.wav" },
        { "a/b", "a/b/donn\xc3\xa9.wav", "./donn%C3%A9.wav" },
        { "a/b", "a/b/missing.wav", NULL },
    };
    char top[200], page[256], file[256];
    scratch_make(top, sizeof top);
    const char *const folders[] = { "a", "a/b", "a/bc" };
    for (size_t i = 0; i < COUNT(folders); i++) {
        snprintf(page, sizeof page, "%s/%s", top, folders[i]);
        assert_int_equal(mkdir(page, 0777), 0);
    }
    for (size_t i = 0; i < COUNT(rows); i++) {
        snprintf(page, sizeof page, "%s/%s", top, rows[i].page);
        snprintf(file, sizeof file, "%s/%s", top, rows[i].file);
        if (rows[i].link) touch(file);
        char *link = preview_link(page, file);
        if (rows[i].link) {
            assert_non_null(link);
            assert_string_equal(link, rows[i].link);
            unlink(file);
        } else assert_null(link);
        free(link);
    }
    scratch_remove(top);
}

/* ---- Columns ---- */

static void test_columns_keep_the_greatest_of_every_stretch(void **state)
{
    (void)state;
    static const uint32_t lengths[] = { 1, 2, 4095, 4096, 4097, 100000 };
    for (size_t k = 0; k < COUNT(lengths); k++)
        for (uint32_t at = 0; at < lengths[k]; at += lengths[k] / 3 + 1) {
            struct columns c;
            assert_int_equal(columns_create(&c, 2, lengths[k]), TC_OK);
            for (uint32_t f = 0; f < lengths[k] + 5; f++) /* frames too many are let go */
                columns_step(&c, (uint16_t[]){ 7, f == at ? 1000 : 0 }, f == at ? 3 : 1);
            size_t column = (size_t)((uint64_t)at * c.count / lengths[k]);
            for (size_t i = 0; i < c.count; i++) {
                assert_int_equal(c.level[2 * i], 7);
                assert_int_equal(c.level[2 * i + 1], i == column ? 1000 : 0);
                assert_int_equal(c.flashes[i], i == column ? 3 : 1);
            }
            columns_clear(&c);
        }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_hostile_names_stay_within_their_element),
        cmocka_unit_test(test_places_are_in_the_data_where_the_rig_has_them),
        cmocka_unit_test(test_sound_goes_in_as_base64),
        cmocka_unit_test(test_a_page_is_under_3_mb_whatever_comes),
        cmocka_unit_test(test_links_are_relative_and_escaped),
        cmocka_unit_test(test_columns_keep_the_greatest_of_every_stretch),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
