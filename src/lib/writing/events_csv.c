#include "writing/events_csv.h"

#include <math.h>

#include "words/numbers.h"

static void put_fixed(FILE *out, int64_t value, int decimals)
{
    char text[32];
    fwrite(text, 1, (size_t)(number_fixed(text, value, decimals) - text), out);
}

static int64_t scaled(float value, double by)
{
    return (int64_t)floor((double)value * by + 0.5);
}

/* What was forced by hand, so that the file reads back as it was read. */
static void put_by_hand(FILE *out, const struct tc_event *e)
{
    putc(',', out);
    if (e->strokes) put_fixed(out, e->strokes, 0);
    putc(',', out);
    for (int i = 0; i < e->path_count; i++) {
        if (i) putc(' ', out);
        put_fixed(out, e->path[i], 0);
    }
}

void events_write(FILE *out, const struct tc_analysis *a)
{
    bool by_hand = false;
    for (size_t i = 0; i < a->event_count; i++)
        by_hand = by_hand || a->events[i].strokes || a->events[i].path_count;
    fprintf(out, "kind,start_s,end_s,peak_s,strength,sharpness,level_dbfs%s\r\n", by_hand ? ",strokes,path" : "");
    for (size_t i = 0; i < a->event_count; i++) {
        const struct tc_event *e = &a->events[i];
        const struct { int64_t value; int decimals; } cells[] = {
            { e->start_ms, 3 }, { e->end_ms, 3 }, { e->peak_ms, 3 },
            { scaled(e->strength, 100), 2 }, { scaled(e->sharpness, 100), 2 },
            { scaled(e->level_dbfs, 10), 1 },
        };
        fputs(e->kind == TC_CRACK ? "crack" : "rumble", out);
        for (size_t c = 0; c < sizeof cells / sizeof *cells; c++) {
            putc(',', out);
            put_fixed(out, cells[c].value, cells[c].decimals);
        }
        if (by_hand) put_by_hand(out, e);
        fputs("\r\n", out);
    }
}
