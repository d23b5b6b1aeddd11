/* A whole timeline as CSV, in one call each: the player's light frames go past
 * the writer of frames or of ramps. */
#include "words/memory.h"
#include "words/settings.h"
#include "words/units.h"
#include "words/watch.h"
#include "writing/frames_csv.h"
#include "writing/ramps_csv.h"

/* So many light frames between two looks at the watch, at least. */
enum { FRAMES_APART = 1024, TOLD = 200 };

/* What one writing holds. */
struct showing {
    struct tc_settings settings;
    const struct tc_rig *rig;
    struct tc_player *player;
    struct ramper *ramper;      /* NULL: frames are written */
    struct frames_columns columns;
    uint16_t *levels;
    struct writer *out;
};

static enum tc_status showing_open(struct showing *w, const struct tc_timeline *t,
                                   const struct tc_settings *s, struct tc_sink to)
{
    enum tc_status status = settings_take(&w->settings, s, NULL);
    if (status != TC_OK) return status;
    if (t->frame_rate != w->settings.frame_rate) return TC_ERR_USAGE;
    w->levels = memory_new(w->rig->channel_count + 1, sizeof *w->levels);
    w->out = memory_new(1, sizeof *w->out);
    if (!w->levels || !w->out) return TC_ERR_MEMORY;
    writer_begin(w->out, to);
    return tc_player_create(&w->player, t, w->rig, &w->settings);
}

static void showing_close(struct showing *w)
{
    tc_player_destroy(w->player);
    ramper_destroy(w->ramper);
    memory_free(w->levels);
    memory_free(w->out);
}

static void put_ready_ramps(struct showing *w)
{
    struct ramp ramp;
    while (ramper_next(w->ramper, &ramp)) ramps_write_row(w->out, &ramp, w->rig, &w->settings);
}

/* One light frame to the CSV that is written. */
static enum tc_status put_frame(struct showing *w, int64_t frame)
{
    const struct tc_settings *s = &w->settings;
    int64_t start_ms = seconds_ms(s->shift_s);
    if (!w->ramper) {
        frames_write_row(w->out, start_ms + frame_ms(frame, s->frame_rate), w->levels, &w->columns,
                         (enum tc_levels)s->levels);
        return w->out->status;
    }
    enum tc_status status = ramper_step(w->ramper, w->levels);
    if (status == TC_OK) put_ready_ramps(w);
    return status == TC_OK ? w->out->status : status;
}

static enum tc_status put_all(struct showing *w, const struct tc_timeline *t, const struct tc_watch *watch)
{
    int64_t apart = t->frames / TOLD > FRAMES_APART ? t->frames / TOLD : FRAMES_APART;
    enum tc_status status = TC_OK;
    for (int64_t f = 0; status == TC_OK && tc_player_step(w->player, w->levels); f++) {
        if (f % apart == 0) status = watch_tell(watch, (double)f / (double)t->frames);
        if (status == TC_OK) status = put_frame(w, f);
    }
    if (status == TC_OK && w->ramper) status = ramper_flush(w->ramper);
    if (status == TC_OK && w->ramper) put_ready_ramps(w);
    if (status == TC_OK) status = writer_end(w->out);
    return status == TC_OK ? watch_tell(watch, 1) : status;
}

enum tc_status tc_frames_write(const struct tc_timeline *t, const struct tc_rig *rig,
                               const struct tc_settings *s, const struct tc_watch *watch,
                               struct tc_sink to)
{
    struct showing w = { .rig = rig };
    enum tc_status status = showing_open(&w, t, s, to);
    if (status == TC_OK) {
        w.columns = frames_columns(rig, w.settings.outputs);
        frames_write_head(w.out, rig, &w.columns);
        status = put_all(&w, t, watch);
    }
    showing_close(&w);
    return status;
}

enum tc_status tc_ramps_write(const struct tc_timeline *t, const struct tc_rig *rig,
                              const struct tc_settings *s, const struct tc_watch *watch,
                              struct tc_sink to)
{
    struct showing w = { .rig = rig };
    enum tc_status status = showing_open(&w, t, s, to);
    if (status == TC_OK)
        status = ramper_create(&w.ramper, rig->channel_count, level_full(w.settings.levels));
    if (status == TC_OK) {
        ramps_write_head(w.out);
        status = put_all(&w, t, watch);
    }
    showing_close(&w);
    return status;
}
