#include "app/plot.h"

#include <math.h>
#include <string.h>

#include "words/numbers.h"
#include "words/text.h"
#include "words/units.h"

/* Everything in pixels of the picture. One light column per pixel of the plot. */
enum {
    WIDTH = 1200, LEFT = 166, RIGHT = 1180, PLOT = RIGHT - LEFT,
    WAVE_TALL = 70, BANDS_TALL = 84, EVENTS_TALL = 58, FLASH_TALL = 56, GAP = 10,
    ROW_MOST = 16, ROW_LEAST = 3, ROWS_TALL = 640, NAME_LEAST = 9,
};

/* Ink on paper. */
#define INK      "#14171f"
#define SOFT     "#555c69"
#define LINE     "#d5d9e0"
#define WAVE     "#5b6579"
#define BRANCH   "#1b2c55"
#define FLOOD    "#5474b8"
#define RUMBLE   "#b9c3ea"
#define STROKE   "#a05d00"
#define RATE     "#8994a8"
#define OVER     "#b3260b"

struct plot {
    FILE *out;
    const struct plot_facts *facts;
    double length_s;      /* of the axis: the light, and the sound after it */
    double shift_s;
};

/* A coordinate or a size, to a tenth of a pixel. */
static void put_number(FILE *out, double v)
{
    char text[24];
    char *end = number_fixed(text, (int64_t)floor(v * 10 + 0.5), 1);
    if (end - text > 2 && end[-1] == '0') end -= 2;
    fwrite(text, 1, (size_t)(end - text), out);
}

static void put_text(FILE *out, const char *from)
{
    char plain[512];
    for (const char *c = text_plain(plain, sizeof plain, from); *c; c++)
        switch (*c) {
        case '&': fputs("&amp;", out); break;
        case '<': fputs("&lt;", out); break;
        case '>': fputs("&gt;", out); break;
        case '"': fputs("&quot;", out); break;
        default: putc(*c, out);
        }
}

/* 83.5 -> "1:23.5", with as many places as asked for. */
static void put_time(FILE *out, double seconds, int places)
{
    int64_t steps = (int64_t)floor(seconds * pow(10, places) + 0.5);
    int64_t each = (int64_t)pow(10, places), whole = steps / each;
    if (whole >= 3600)
        fprintf(out, "%lld:%02lld:%02lld", (long long)(whole / 3600), (long long)(whole / 60 % 60), (long long)(whole % 60));
    else fprintf(out, "%lld:%02lld", (long long)(whole / 60), (long long)(whole % 60));
    if (places) fprintf(out, ".%0*lld", places, (long long)(steps % each));
}

static double plot_x(const struct plot *p, double seconds)
{
    return LEFT + seconds / p->length_s * PLOT;
}

static void label(const struct plot *p, double y, const char *colour, const char *words)
{
    fputs("<text x=\"20\" y=\"", p->out);
    put_number(p->out, y);
    fprintf(p->out, "\" fill=\"%s\">%s</text>\n", colour, words);
}

static void lane_line(const struct plot *p, double y)
{
    fprintf(p->out, "<path d=\"M20 %.1fH%d\" stroke=\"" LINE "\"/>\n", y, RIGHT);
}

/* ---- The parts, from top to bottom ---- */

static double put_head(const struct plot *p)
{
    const struct plot_facts *f = p->facts;
    size_t cracks = 0;
    for (size_t i = 0; i < f->heard->event_count; i++) cracks += f->heard->events[i].kind == TC_CRACK;
    size_t rumbles = f->heard->event_count - cracks;
    fputs("<text x=\"20\" y=\"40\" font-size=\"26\" font-family=\"Palatino,Georgia,serif\" clip-path=\"url(#head)\">", p->out);
    put_text(p->out, f->title);
    fprintf(p->out, "</text>\n<text x=\"20\" y=\"62\" fill=\"" SOFT "\">%zu crack%s, %zu stroke%s, %zu rumble%s; "
                    "dark %.0f %%; at most %.3g flashes in one second, ",
            cracks, cracks == 1 ? "" : "s", f->timeline->stroke_count, f->timeline->stroke_count == 1 ? "" : "s",
            rumbles, rumbles == 1 ? "" : "s", 100 * (1 - f->load->lit_share),
            (double)f->flash->peak_transitions / 2);
    if (f->settings->flash_limit) fprintf(p->out, "limit %lld", (long long)f->settings->flash_limit);
    else fputs("flash limit off", p->out);
    fprintf(p->out, "; peak load %.0f W of %.0f W all on</text>\n", f->load->rig.reached_w, f->load->rig.all_on_w);
    return 78;
}

/* Round numbers of the time shown, the shift included, about 90 pixels apart. */
static void put_axis(const struct plot *p, double top, double bottom)
{
    static const double steps[] = { 0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200 };
    enum { STEPS = sizeof steps / sizeof *steps };
    double wanted = p->length_s * 90 / PLOT, step = steps[STEPS - 1];
    for (int i = STEPS; i-- > 0;)
        if (steps[i] >= wanted) step = steps[i];
    for (double k = ceil(p->shift_s / step - 1e-9); k * step <= p->shift_s + p->length_s + 1e-9; k++) {
        double x = plot_x(p, k * step - p->shift_s);
        fprintf(p->out, "<path d=\"M%.1f %.1fV%.1f\" stroke=\"" LINE "\"/><text x=\"%.1f\" y=\"%.1f\" fill=\"" SOFT
                        "\" text-anchor=\"%s\">", x, top + 16, bottom, x, top + 11,
                x > RIGHT - 16 ? "end" : x < LEFT + 16 ? "start" : "middle");
        put_time(p->out, k * step, step < 1);
        fputs("</text>\n", p->out);
    }
}

/* The overview's columns that fall into one pixel: [*from, *to). */
static bool columns_at(const struct plot *p, int x, size_t *from, size_t *to)
{
    const struct tc_overview *o = p->facts->heard->overview;
    double per_second = (double)STEPS_A_SECOND / (double)o->steps_each;
    double start = (p->length_s * x / PLOT - p->facts->sound_late_s) * per_second;
    double end = (p->length_s * (x + 1) / PLOT - p->facts->sound_late_s) * per_second;
    if (end <= 0 || start >= (double)o->count) return false;
    *from = start > 0 ? (size_t)start : 0;
    *to = (size_t)ceil(end);
    if (*to > o->count) *to = o->count;
    return *from < *to;
}

static double put_wave(const struct plot *p, double top)
{
    const struct tc_overview *o = p->facts->heard->overview;
    if (!o || !o->count) return top;
    double middle = top + WAVE_TALL / 2.0;
    label(p, top + 14, INK, "Waveform");
    fputs("<path stroke=\"" WAVE "\" d=\"", p->out);
    for (int x = 0; x < PLOT; x++) {
        size_t from, to;
        uint8_t most = 0;
        if (!columns_at(p, x, &from, &to)) continue;
        for (size_t c = from; c < to; c++)
            if (o->peak[c] > most) most = o->peak[c];
        double half = 0.3 + most / 255.0 * (WAVE_TALL / 2.0 - 2);
        fprintf(p->out, "M%d.5 ", LEFT + x);
        put_number(p->out, middle - half);
        putc('V', p->out);
        put_number(p->out, middle + half);
    }
    fputs("\"/>\n", p->out);
    return top + WAVE_TALL + GAP;
}

enum { SHADES = 9, SHADE_DB = 7, CELL = 2 }; /* steps of grey, their height, pixels a cell */

/* Louder is darker: one path for each shade, runs of equal cells as one. */
static double put_bands(const struct plot *p, double top)
{
    const struct tc_overview *o = p->facts->heard->overview;
    static uint8_t const none = 255;
    if (!o || !o->count) return top;
    uint8_t loudest = 0;
    for (size_t c = 0; c < o->count; c++)
        for (int b = 0; b < BAND_COUNT; b++)
            if (o->band[c][b] > loudest) loudest = o->band[c][b];
    double tall = (double)BANDS_TALL / BAND_COUNT;
    label(p, top + 14, INK, "Level by pitch");
    fprintf(p->out, "<text x=\"20\" y=\"%.1f\" fill=\"" SOFT "\">%.0f Hz to %.0f kHz</text>\n", top + 30,
            BAND_LOWEST_HZ, BAND_LOWEST_HZ * pow(2, BAND_COUNT / 2.0) / 1000);
    for (int shade = 1; shade < SHADES; shade++) {
        int grey = 236 - shade * 24;
        fprintf(p->out, "<path fill=\"rgb(%d,%d,%d)\" d=\"", grey, grey + 5, grey + 19);
        for (int b = 0; b < BAND_COUNT; b++) {
            int run = 0;
            for (int x = 0; x <= PLOT; x += CELL) {
                uint8_t now = none;
                size_t from, to, last;
                if (x < PLOT && columns_at(p, x, &from, &to)) {
                    if (x + 1 < PLOT && columns_at(p, x + 1, &last, &last)) to = last > to ? last : to;
                    uint8_t most = 0;
                    for (size_t c = from; c < to; c++)
                        if (o->band[c][b] > most) most = o->band[c][b];
                    int steps = SHADES - 1 - (loudest - most) / (2 * SHADE_DB);
                    now = (uint8_t)(steps > 0 ? steps : 0);
                }
                if (now == shade) {
                    run++;
                    continue;
                }
                if (!run) continue;
                fprintf(p->out, "M%d ", LEFT + x - run * CELL);
                put_number(p->out, top + BANDS_TALL - (b + 1) * tall);
                fprintf(p->out, "h%dv", run * CELL);
                put_number(p->out, tall);
                fprintf(p->out, "h-%dz", run * CELL);
                run = 0;
            }
        }
        fputs("\"/>\n", p->out);
    }
    return top + BANDS_TALL + GAP;
}

static double put_events(const struct plot *p, double top)
{
    const struct tc_analysis *a = p->facts->heard;
    double base = top + EVENTS_TALL * 0.62, bottom = top + EVENTS_TALL;
    label(p, top + 14, INK, "Cracks");
    label(p, bottom - 4, FLOOD, "Rumbles");
    fputs("<path fill=\"" RUMBLE "\" stroke=\"" FLOOD "\" stroke-width=\".6\" d=\"", p->out);
    for (size_t i = 0; i < a->event_count; i++) {
        const struct tc_event *e = &a->events[i];
        if (e->kind != TC_RUMBLE) continue;
        double x = plot_x(p, (double)e->start_ms / 1000 + p->facts->sound_late_s);
        double wide = (double)(e->end_ms - e->start_ms) / 1000 / p->length_s * PLOT;
        double tall = (bottom - base - 4) * (0.45 + 0.55 * (double)e->strength);
        fprintf(p->out, "M%.1f %.1fh%.1fv-%.1fh-%.1fz", x, bottom, wide, tall, wide);
    }
    fputs("\"/>\n<path stroke=\"" INK "\" stroke-width=\"1.4\" d=\"", p->out);
    for (size_t i = 0; i < a->event_count; i++) {
        const struct tc_event *e = &a->events[i];
        if (e->kind != TC_CRACK) continue;
        double x = plot_x(p, (double)e->start_ms / 1000 + p->facts->sound_late_s);
        fprintf(p->out, "M%.1f %.1fV%.1f", x, base, base - 6 - (base - top - 12) * (double)e->strength);
    }
    fputs("\"/>\n<path fill=\"" STROKE "\" d=\"", p->out);
    double before = -1;
    for (size_t i = 0; i < p->facts->timeline->stroke_count; i++) {
        double x = plot_x(p, (double)p->facts->timeline->strokes[i].frame / (double)p->facts->settings->frame_rate);
        if (x - before < 0.5) continue;
        before = x;
        fprintf(p->out, "M%.1f %.1fh4l-2 5z", x - 2, top);
    }
    fputs("\"/>\n", p->out);
    return bottom + GAP;
}

/* Light to the height it looks like (sRGB transfer, as screens have it). */
static double seen(double light)
{
    return light <= 0.0031308 ? 12.92 * light : 1.055 * pow(light, 1 / 2.4) - 0.055;
}

/* The columns of light that fall into one pixel: [*from, *to). */
static bool light_at(const struct plot *p, int x, size_t *from, size_t *to)
{
    const struct columns *c = p->facts->columns;
    double light_s = (double)c->frames / (double)p->facts->settings->frame_rate;
    double per_pixel = p->length_s / PLOT / light_s * (double)c->count;
    double start = x * per_pixel;
    if (start >= (double)c->count) return false;
    *from = (size_t)start;
    *to = (size_t)ceil(start + per_pixel);
    if (*to > c->count) *to = c->count;
    return *from < *to;
}

static double row_tall(const struct tc_rig *rig)
{
    double tall = (double)ROWS_TALL / (double)rig->channel_count;
    return tall > ROW_MOST ? ROW_MOST : tall < ROW_LEAST ? ROW_LEAST : tall;
}

static double put_strips(const struct plot *p, double top)
{
    const struct columns *c = p->facts->columns;
    const struct tc_rig *rig = p->facts->rig;
    double full = p->facts->settings->levels == TC_LEVELS_PERCENT ? 1000 : 255;
    double tall = row_tall(rig);
    for (size_t i = 0; i < rig->channel_count; i++) {
        const struct tc_channel *channel = &rig->channels[i];
        double base = top + (double)(i + 1) * tall;
        if (tall >= NAME_LEAST) {
            fprintf(p->out, "<text x=\"44\" y=\"%.1f\" font-size=\"11\" text-anchor=\"end\" fill=\"" SOFT
                            "\">%d</text><text x=\"50\" y=\"%.1f\" font-size=\"11\" clip-path=\"url(#names)\"%s>",
                    base - 3, channel->number, base - 3, channel->kind == TC_FLOOD ? " fill=\"" FLOOD "\"" : "");
            put_text(p->out, channel->name);
            fputs("</text>\n", p->out);
        }
        fprintf(p->out, "<path stroke=\"%s\" d=\"", channel->kind == TC_FLOOD ? FLOOD : BRANCH);
        for (int x = 0; x < PLOT; x++) {
            size_t from, to;
            uint16_t most = 0;
            if (!light_at(p, x, &from, &to)) continue;
            for (size_t k = from; k < to; k++)
                if (c->level[k * c->channels + i] > most) most = c->level[k * c->channels + i];
            double high = seen(channel_light(channel, 100.0 * most / full)) * (tall - 1.5);
            if (high <= 0) continue;
            fprintf(p->out, "M%d.5 ", LEFT + x);
            put_number(p->out, base);
            fputs("v-", p->out);
            put_number(p->out, high < 0.5 ? 0.5 : high);
        }
        fputs("\"/>\n", p->out);
    }
    double bottom = top + (double)rig->channel_count * tall;
    lane_line(p, bottom + 0.5);
    return bottom + GAP;
}

static double put_rate(const struct plot *p, double top)
{
    const struct columns *c = p->facts->columns;
    int64_t limit = p->facts->settings->flash_limit;
    double most = (double)p->facts->flash->peak_transitions / 2;
    if (most < (double)limit) most = (double)limit;
    if (most < 3) most = 3;
    double each = (FLASH_TALL - 8) / (most + 0.5), base = top + FLASH_TALL;
    label(p, top + 14, INK, "Flashes in");
    label(p, top + 30, INK, "the last second");
    for (int over = 0; over < 2; over++) {
        fprintf(p->out, "<path stroke=\"%s\" d=\"", over ? OVER : RATE);
        for (int x = 0; x < PLOT; x++) {
            size_t from, to;
            uint8_t rate = 0;
            if (!light_at(p, x, &from, &to)) continue;
            for (size_t k = from; k < to; k++)
                if (c->flashes[k] > rate) rate = c->flashes[k];
            if (!rate || (limit && rate > limit) != over) continue;
            fprintf(p->out, "M%d.5 %.1fv-", LEFT + x, base);
            put_number(p->out, rate * each);
        }
        fputs("\"/>\n", p->out);
    }
    if (limit)
        fprintf(p->out, "<path d=\"M%d %.1fH%d\" stroke=\"" STROKE "\" stroke-dasharray=\"6 4\"/>"
                        "<text x=\"%d\" y=\"%.1f\" fill=\"" STROKE "\" font-size=\"11\" text-anchor=\"end\">limit %lld</text>\n",
                LEFT, base - (double)limit * each, RIGHT, RIGHT, base - (double)limit * each - 3, (long long)limit);
    return base;
}

void plot_write(FILE *out, const struct plot_facts *f)
{
    double light_s = (double)f->timeline->frames / (double)f->settings->frame_rate;
    double sound_s = (double)f->heard->length_ms / 1000 + f->sound_late_s;
    struct plot p = { .out = out, .facts = f, .length_s = light_s > sound_s ? light_s : sound_s,
                      .shift_s = f->settings->shift_s };
    if (p.length_s <= 0) p.length_s = 1;
    bool sound = f->heard->overview && f->heard->overview->count;
    double head = 78, axis = 22;
    double bottom = head + axis + (sound ? WAVE_TALL + BANDS_TALL + 2 * GAP : 0) + EVENTS_TALL + GAP
                    + (double)f->rig->channel_count * row_tall(f->rig) + GAP + FLASH_TALL;
    fprintf(out, "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"%d\" height=\"%.0f\" viewBox=\"0 0 %d %.0f\" "
                 "font-family=\"system-ui,sans-serif\" font-size=\"12\" fill=\"" INK "\">\n<title>",
            WIDTH, bottom + 20, WIDTH, bottom + 20);
    put_text(out, f->title);
    fprintf(out, ": the storm in time</title>\n<style>text{unicode-bidi:isolate;direction:ltr}</style>\n"
                 "<clipPath id=\"head\"><path d=\"M0 0H%dV60H0z\"/></clipPath>"
                 "<clipPath id=\"names\"><path d=\"M0 0H%dV%.0fH0z\"/></clipPath>\n"
                 "<rect width=\"%d\" height=\"%.0f\" fill=\"#fff\"/>\n\n",
            RIGHT, LEFT - 6, bottom, WIDTH, bottom + 20);
    double y = put_head(&p);
    put_axis(&p, y, bottom);
    y = put_wave(&p, y + axis);
    y = put_bands(&p, y);
    y = put_events(&p, y);
    lane_line(&p, y - GAP / 2.0);
    y = put_strips(&p, y);
    put_rate(&p, y);
    fprintf(out, "<path d=\"M%d %.1fH%d\" stroke=\"" SOFT "\"/>\n</svg>\n", LEFT, bottom, RIGHT);
}
