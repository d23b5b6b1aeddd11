/* events.csv, by RFC 4180 with CRLF line ends. */
#include "thundercue.h"

#include <math.h>

#include "words/numbers.h"
#include "words/sink.h"
#include "words/status.h"

static int64_t scaled(float value, double by)
{
    return (int64_t)floor((double)value * by + 0.5);
}

/* What was forced by hand, so that the file reads back as it was read. */
static void put_by_hand(struct writer *w, const struct tc_event *e)
{
    writer_text(w, ",");
    if (e->strokes) writer_fixed(w, e->strokes, 0);
    writer_text(w, ",");
    for (int i = 0; i < e->path_count; i++) {
        if (i) writer_text(w, " ");
        writer_fixed(w, e->path[i], 0);
    }
}

/* What the analysis was made with, in every row: rows can be deleted and sorted. */
static void put_making(struct writer *w, const struct tc_analysis *a)
{
    char number[32];
    writer_text(w, ",");
    if (a->sensitivity >= 0) writer_text(w, number_show(number, sizeof number, a->sensitivity, 6));
    writer_text(w, ",");
    writer_fixed(w, a->frame_rate, 0);
}

enum tc_status tc_events_write(const struct tc_analysis *a, struct tc_sink to, struct tc_problem *why)
{
    bool by_hand = false;
    for (size_t i = 0; i < a->event_count; i++) {
        const struct tc_event *e = &a->events[i];
        if (e->path_count < 0 || e->path_count > TC_PATH_MAX_CHANNELS)
            return problem_set(why, TC_ERR_USAGE,
                               "the analysis' events[%zu]: its path_count is %d; 0 to %d are possible", i,
                               e->path_count, TC_PATH_MAX_CHANNELS);
        by_hand = by_hand || e->strokes || e->path_count;
    }
    struct writer w;
    writer_begin(&w, to);
    writer_text(&w, "kind,start_s,end_s,peak_s,strength,sharpness,level_dbfs");
    if (by_hand) writer_text(&w, ",strokes,path");
    writer_text(&w, a->frame_rate ? ",sensitivity,frame_rate\r\n" : "\r\n");
    for (size_t i = 0; i < a->event_count && w.status == TC_OK; i++) {
        const struct tc_event *e = &a->events[i];
        const struct { int64_t value; int decimals; } cells[] = {
            { e->start_ms, 3 }, { e->end_ms, 3 }, { e->peak_ms, 3 },
            { scaled(e->strength, 100), 2 }, { scaled(e->sharpness, 100), 2 },
            { scaled(e->level_dbfs, 10), 1 },
        };
        writer_text(&w, e->kind == TC_CRACK ? "crack" : "rumble");
        for (size_t c = 0; c < sizeof cells / sizeof *cells; c++) {
            writer_text(&w, ",");
            writer_fixed(&w, cells[c].value, cells[c].decimals);
        }
        if (by_hand) put_by_hand(&w, e);
        if (a->frame_rate) put_making(&w, a);
        writer_text(&w, "\r\n");
    }
    enum tc_status status = writer_end(&w);
    return status == TC_OK ? TC_OK : problem_say(why, status);
}
