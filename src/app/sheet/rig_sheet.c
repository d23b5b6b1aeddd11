#include "app/sheet/rig_sheet.h"

#include <string.h>

#include "app/report/cautions.h"
#include "app/report/channel_list.h"
#include "app/sheet/rig_sums.h"
#include "app/sheet/rig_tables.h"
#include "io/files/stream.h"
#include "rig/electric.h"
#include "rig/rope.h"
#include "words/text.h"
#include "words/units.h"

enum { TEXT_WIDTH = 96 };

static void write_caution(FILE *out, enum caution which)
{
    caution_wrap(out, caution_text(which), "  ! ", "    ", TEXT_WIDTH);
}

/* ---- The tree of branches ---- */

/* Room for the lines in front of the deepest branch: 3 columns each level, of
 * which the stroke takes 3 bytes. */
struct tree {
    FILE *out;
    const struct tc_rig *rig;
    char lines[TC_MAX_CHANNELS * 5 + 1];
};

static bool is_child(const struct tc_rig *rig, size_t i, int parent)
{
    return rig->channels[i].kind == TC_BRANCH && rig->channels[i].parent == parent;
}

/* The branches that grow from `parent`, each with its own below it. `used` is
 * the length of the lines in front. The rig has no loops, so this ends. */
static void write_branches(struct tree *t, int parent, size_t used)
{
    size_t last = 0, count = 0;
    for (size_t i = 0; i < t->rig->channel_count; i++)
        if (is_child(t->rig, i, parent)) last = i, count++;
    for (size_t i = 0; count && i <= last; i++) {
        if (!is_child(t->rig, i, parent)) continue;
        const struct tc_channel *c = &t->rig->channels[i];
        char plain[120];
        text_plain(plain, sizeof plain, c->name);
        t->lines[used] = 0;
        fprintf(t->out, "  %s%s%d %s\n", t->lines, parent < 0 ? "" : i == last ? "└─ " : "├─ ",
                c->number, plain);
        const char *more = parent < 0 ? "" : i == last ? "   " : "│  ";
        size_t n = strlen(more);
        memcpy(t->lines + used, more, n);
        write_branches(t, (int)i, used + n);
    }
}

/* ---- Parts of the sheet ---- */

static void write_head(FILE *out, const struct tc_rig *rig)
{
    char plain[TC_NAME_SIZE];
    struct sum all = { 0 };
    size_t branches = 0;
    for (size_t i = 0; i < rig->channel_count; i++) {
        sum_add(&all, rig, &rig->channels[i]);
        branches += rig->channels[i].kind == TC_BRANCH;
    }
    size_t floods = rig->channel_count - branches;
    fprintf(out, "Rig sheet: %s\n", text_plain(plain, sizeof plain, rig->name));
    fprintf(out, "%zu channel%s (%zu branch%s, %zu flood%s), mains %g V %g Hz, all on %.1f W, %.2f A\n",
            rig->channel_count, rig->channel_count == 1 ? "" : "s", branches, branches == 1 ? "" : "es", floods,
            floods == 1 ? "" : "s", rig->mains_volts, rig->mains_hz, all.watts, all.amps);
    fprintf(out, "A phase-cut dimmer changes light once in each half-cycle: every %.1f ms.\n",
            half_cycle_ms(rig->mains_hz));
}

static bool is_branch(const struct tc_rig *rig, size_t i)
{
    return rig->channels[i].kind == TC_BRANCH;
}

static bool output_wanted(const struct tc_rig *rig, size_t i)
{
    return rig->channels[i].max_amps > 0;
}

static bool cord_wanted(const struct tc_rig *rig, size_t i)
{
    return rig->channels[i].cord_length > 0 || rig->channels[i].cord_awg > 0;
}

static bool any_channel(const struct tc_rig *rig, row_fn *wanted)
{
    for (size_t i = 0; i < rig->channel_count; i++)
        if (wanted(rig, i)) return true;
    return false;
}

static void write_load(FILE *out, const struct tc_rig *rig)
{
    fputs("\nLoad of the circuits (nameplates, everything on)\n", out);
    table_write(out, rig, TABLE_CIRCUITS, rig->circuit_count, NULL);
    fputs("  The 80 % line is a line to stay below, and less is better.\n", out);
    write_caution(out, CAUTION_CONTINUOUS);
    write_caution(out, CAUTION_DRIVERS);
}

static void write_dimmer(FILE *out, const struct tc_rig *rig)
{
    if (any_channel(rig, output_wanted)) {
        fputs("\nDimmer outputs\n", out);
        table_write(out, rig, TABLE_OUTPUTS, rig->channel_count, output_wanted);
    }
    if (rig->bank_count) {
        fputs("\nDimmer banks\n", out);
        table_write(out, rig, TABLE_BANKS, rig->bank_count, NULL);
    }
}

static void write_cords(FILE *out, const struct tc_rig *rig)
{
    if (!any_channel(rig, cord_wanted)) return;
    fputs("\nCord runs (2 wires in use, copper at 75 C, out and back)\n", out);
    table_write(out, rig, TABLE_CORDS, rig->channel_count, cord_wanted);
    write_caution(out, CAUTION_CORDS);
}

static void write_overhead(FILE *out, const struct tc_rig *rig)
{
    const struct tc_overhead *o = &rig->overhead;
    if (!o->given) return;
    struct line_sums s = line_sums(o);
    char a[40], b[40];
    fputs("\nOverhead line\n", out);
    fprintf(out, "  span %s, sag in the middle %s (%.1f %% of the span)\n",
            length_text(a, sizeof a, o->span_m, o->metric),
            length_text(b, sizeof b, o->sag_m, o->metric), 100 * o->sag_m / o->span_m);
    fprintf(out, "  carries %s in the middle and %s spread along it\n",
            force_text(a, sizeof a, o->centre_n, o->metric),
            force_text(b, sizeof b, o->uniform_n_per_m * o->span_m, o->metric));
    fprintf(out, "  pull at each end: %s\n", force_text(a, sizeof a, s.tension, o->metric));
    fprintf(out, "  knot leaves %g %% of the rope's strength%s, design factor %g%s\n", 100 * s.knot,
            o->knot > 0 ? "" : " (taken, not given)",
        s.design_factor, o->design_factor > 0 ? "" : " (taken, not given)");
    fprintf(out, "  the rope needs a breaking strength of at least %s\n",
            force_text(a, sizeof a, s.needed, o->metric));
    if (o->breaking_n > 0)
        fprintf(out, "  breaking strength given: %s%s\n", force_text(a, sizeof a, o->breaking_n, o->metric),
                sum_over(s.tension, s.good_for) ? ", TOO WEAK" : "");
    fprintf(out, "  if it stretches by 1 %%, the middle sags to %s\n",
            length_text(a, sizeof a, rope_sag_stretched(o->span_m, o->sag_m, 0.01), o->metric));
    if (s.design_factor < DESIGN_OVER_PEOPLE)
        caution_wrap(out, "Where people walk or sit below, a design factor of 12 and more and a second line for safety "
                          "are common practice.", "  ! ", "    ", TEXT_WIDTH);
    write_caution(out, CAUTION_LINE);
    write_caution(out, CAUTION_POWER_LINES);
}

/* ---- Notes on lamps ---- */

static bool is_led(const struct tc_rig *rig, size_t i)
{
    return rig->channels[i].lamp == TC_LAMP_LED;
}

static bool is_filament(const struct tc_rig *rig, size_t i)
{
    return rig->channels[i].lamp == TC_LAMP_INCANDESCENT;
}

static bool is_led_flood(const struct tc_rig *rig, size_t i)
{
    const struct tc_channel *c = &rig->channels[i];
    return c->kind == TC_FLOOD && c->lamp == TC_LAMP_LED && !(c->rise_ms > 0) && !(c->fall_ms > 0);
}

/* Slower than a light frame at the usual 40 a second. */
static bool is_slow(const struct tc_rig *rig, size_t i)
{
    return rig->channels[i].rise_ms > 25;
}

/* Shares its name with an earlier channel. */
static bool is_namesake(const struct tc_rig *rig, size_t i)
{
    for (size_t k = 0; k < i; k++)
        if (!strcmp(rig->channels[k].name, rig->channels[i].name)) return true;
    return false;
}

static void lamp_note(FILE *out, const struct tc_rig *rig, row_fn *wanted, const char *note)
{
    char list[160], text[800];
    bool which[TC_MAX_CHANNELS];
    for (size_t i = 0; i < rig->channel_count; i++) which[i] = wanted(rig, i);
    size_t count = channel_list(list, sizeof list, rig, which, true);
    if (!count) return;
    snprintf(text, sizeof text, "Channel%s %s: %s", count == 1 ? "" : "s", list, note);
    caution_wrap(out, text, "  ! ", "    ", TEXT_WIDTH);
}

static void write_notes(FILE *out, const struct tc_rig *rig)
{
    fputs("\nLamps\n", out);
    lamp_note(out, rig, is_led, caution_text(CAUTION_LED_DIMMING));
    lamp_note(out, rig, is_led_flood, caution_text(CAUTION_LED_SLOW));
    lamp_note(out, rig, is_filament, caution_text(CAUTION_FILAMENT));
    lamp_note(out, rig, is_slow,
              "They rise slower than a light frame: use them for rumbles and glow rather than for strokes, "
                                 "or give them a lead_ms.");
    lamp_note(out, rig, is_namesake,
              "They carry the name of an earlier channel, so the columns of frames.csv can't be told "
                                     "apart by name.");
    write_caution(out, CAUTION_STRINGS);
}

struct listing {
    FILE *out;
};

static void list_finding(void *user, const struct rig_finding *finding)
{
    const struct listing *l = user;
    caution_wrap(l->out, finding->text, "  - ", "    ", TEXT_WIDTH);
}

static size_t write_findings(FILE *out, const struct tc_rig *rig)
{
    size_t count = rig_findings(rig, NULL, NULL);
    fprintf(out, "\nFindings:%s\n", count ? "" : " none");
    return rig_findings(rig, list_finding, &(struct listing){ out });
}

/* ---- The sheet ---- */

size_t rig_sheet_text(FILE *out, const struct tc_rig *rig)
{
    write_head(out, rig);
    fputs("\nHookup\n", out);
    table_write(out, rig, TABLE_HOOKUP, rig->channel_count, NULL);
    if (any_channel(rig, is_branch)) {
        struct tree tree = { .out = out, .rig = rig };
        fputs("\nBranches, from the cloud down\n", out);
        write_branches(&tree, -1, 0);
    }
    write_load(out, rig);
    write_dimmer(out, rig);
    write_cords(out, rig);
    write_overhead(out, rig);
    write_notes(out, rig);
    fputs("\nBefore you plug in\n", out);
    write_caution(out, CAUTION_WIRING);
    write_caution(out, CAUTION_OUTDOORS);
    write_caution(out, CAUTION_FLASHING);
    return write_findings(out, rig);
}

/* Gathers the findings of one channel into one cell. */
struct gathering {
    int channel;
    size_t used;
    char text[1000];
};

static void gather(void *user, const struct rig_finding *finding)
{
    struct gathering *g = user;
    if (finding->channel != g->channel || g->used >= sizeof g->text) return;
    g->used += (size_t)snprintf(g->text + g->used, sizeof g->text - g->used, "%s%s", g->used ? "; " : "",
                                finding->text);
}

void rig_sheet_csv(FILE *out, const struct tc_rig *rig)
{
    const struct table *table = sheet_table(TABLE_CSV);
    char cell[TC_NAME_SIZE], plain[TC_NAME_SIZE + 24];
    for (size_t c = 0; c < table->count; c++) fprintf(out, "%s,", table->columns[c].head);
    fputs("findings\r\n", out);
    for (size_t i = 0; i < rig->channel_count; i++) {
        for (size_t c = 0; c < table->count; c++) {
            table->columns[c].fill(cell, rig, i);
            stream_cell(out, text_plain(plain, sizeof plain, cell), true);
            putc(',', out);
        }
        struct gathering g = { .channel = (int)i };
        rig_findings(rig, gather, &g);
        stream_cell(out, g.text, true);
        fputs("\r\n", out);
    }
}
