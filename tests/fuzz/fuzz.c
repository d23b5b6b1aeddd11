/* What several fuzz targets do with their input. */
#include "fuzz.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <unistd.h>

#include "light/flash_count.h"
#include "words/units.h"

enum { SHORT_MS = 20000, FRAMES_MOST = 4000 };

struct fuzz_file fuzz_open(const uint8_t *data, size_t size)
{
    struct fuzz_file f = { .fd = memfd_create("fuzz", MFD_CLOEXEC) };
    FUZZ_CHECK(f.fd >= 0);
    for (size_t at = 0; at < size;) {
        ssize_t n = write(f.fd, data + at, size - at);
        FUZZ_CHECK(n > 0);
        at += (size_t)n;
    }
    snprintf(f.path, sizeof f.path, "/proc/self/fd/%d", f.fd);
    return f;
}

void fuzz_close(struct fuzz_file *f)
{
    close(f->fd);
}

void fuzz_broken(const char *file, int line, const char *promise)
{
    fprintf(stderr, "%s:%d: broken: %s\n", file, line, promise);
    abort();
}

void fuzz_play(const struct tc_analysis *heard, const struct tc_rig *rig, const struct tc_settings *s)
{
    if (heard->length_ms > SHORT_MS) return;
    struct tc_timeline timeline;
    struct tc_player *player = NULL;
    struct flash_counter *counter = NULL;
    uint16_t full = s->levels == TC_LEVELS_8BIT ? 255 : 1000;
    uint16_t *levels = calloc(rig->channel_count + 1, sizeof *levels);
    FUZZ_CHECK(levels && tc_cue(heard, rig, s, NULL, &timeline, NULL) == TC_OK);
    FUZZ_CHECK(tc_player_create(&player, &timeline, rig, s, NULL) == TC_OK);
    FUZZ_CHECK(flash_counter_create(&counter, rig, full, s->flash_limit) == TC_OK);
    for (int64_t f = 0; f < FRAMES_MOST && tc_player_step(player, levels); f++) {
        for (size_t c = 0; c < rig->channel_count; c++) FUZZ_CHECK(levels[c] <= full);
        flash_counter_step(counter, levels, f * 1000000 / s->frame_rate);
    }
    struct flash_report report;
    flash_counter_report(counter, &report);
    if (s->flash_limit) FUZZ_CHECK(report.peak_transitions <= 2 * s->flash_limit);
    flash_counter_destroy(counter);
    tc_player_destroy(player);
    tc_timeline_clear(&timeline);
    free(levels);
}

struct tc_analysis fuzz_events(void)
{
    static const int64_t at_ms[] = { 500, 560, 1000, 1400, 1410, 3000 };
    enum { CRACKS = sizeof at_ms / sizeof *at_ms, LENGTH_MS = 6000, FRAMES = 6 * 120 + 1 };
    struct tc_analysis a = { .length_ms = LENGTH_MS, .event_count = CRACKS + 1, .envelope_count = FRAMES };
    a.events = calloc(a.event_count, sizeof *a.events);
    a.envelope = calloc(FRAMES, 1);
    FUZZ_CHECK(a.events && a.envelope);
    for (size_t i = 0; i < CRACKS; i++)
        a.events[i] = (struct tc_event){ .kind = TC_CRACK, .start_ms = at_ms[i], .end_ms = at_ms[i],
                                         .peak_ms = at_ms[i],
                                         .strength = 1.0f - 0.1f * (float)i, .sharpness = 0.2f * (float)i };
    a.events[CRACKS] = (struct tc_event){ .kind = TC_RUMBLE, .start_ms = 3200, .end_ms = 5500, .peak_ms = 3500,
                                          .strength = 0.5f, .level_dbfs = -20 };
    for (size_t i = 0; i < FRAMES; i++) a.envelope[i] = (uint8_t)(100 + i % 100);
    return a;
}

/* libsndfile 1.2 forgets a little memory of libvorbis when it refuses a broken
 * Ogg file; all other leaks are ours and count. */
const char *__lsan_default_suppressions(void);
const char *__lsan_default_suppressions(void)
{
    return "leak:vorbis_info_init\nleak:libvorbis\n";
}
