#include "rig/rig_new.h"

#include <stdio.h>
#include <string.h>

#include "rig/electric.h"
#include "rig/rig_keys.h"
#include "words/sink.h"
#include "words/status.h"

/* Nameplates taken for a new rig: of the order of what labels say (LED strings
 * of 50 to 70 lamps 3 to 6 W, small LED floods 10 to 20 W; common practice). */
#define STRING_WATTS  5
#define FLOOD_WATTS  15

/* Circuits of a new rig, and how far they are filled: half of the 80 % line,
 * so that other things on the same circuit don't matter at once. */
#define NEW_VOLTS     120.0
#define NEW_BREAKER    15.0
#define NEW_FILL_WATTS (0.5 * CONTINUOUS_SHARE * NEW_BREAKER * NEW_VOLTS)

enum { NAME_MOST = 48 };

/* One channel of the new rig. */
struct planned {
    char name[NAME_MOST];
    int parent;   /* channel number, 0 = a root */
    int lamps;    /* that share it */
    int circuit;  /* from 1 */
};

struct layout {
    int branch_channels, flood_channels, circuits;
    struct planned at[TC_MAX_CHANNELS];
};

/* ---- Sharing channels out ---- */

static int least(int a, int b)
{
    return a < b ? a : b;
}

/* Branches come first; floods get at least a quarter of the channels if they
 * ask for them. */
static void share_channels(struct layout *l, const struct rig_plan *plan)
{
    int channels = plan->channels ? plan->channels : least(plan->branches + plan->floods, TC_MAX_CHANNELS);
    int for_floods = least(plan->floods, channels / 4 > 1 ? channels / 4 : 1);
    l->branch_channels = least(plan->branches, channels - for_floods);
    l->flood_channels = least(plan->floods, channels - l->branch_channels);
}

/* Lamps over channels as evenly as they go; the later ones (tips, outer
 * floods) take what is left over. */
static void share_lamps(struct planned *at, int channels, int lamps)
{
    for (int i = 0; i < channels; i++) at[i].lamps = lamps / channels + (i >= channels - lamps % channels);
}

static int channel_watts(const struct layout *l, int i)
{
    return l->at[i].lamps * (i < l->branch_channels ? STRING_WATTS : FLOOD_WATTS);
}

/* Consecutive channels share a circuit until it is filled. */
static void share_circuits(struct layout *l)
{
    int watts = 0;
    l->circuits = 1;
    for (int i = 0; i < l->branch_channels + l->flood_channels; i++) {
        if (watts && watts + channel_watts(l, i) > NEW_FILL_WATTS) {
            l->circuits++;
            watts = 0;
        }
        watts += channel_watts(l, i);
        l->at[i].circuit = l->circuits;
    }
}

/* ---- The tree ---- */

static int trunk_length(int branches)
{
    int root = 0; /* floor of the square root */
    while ((root + 1) * (root + 1) <= branches) root++;
    return least(branches, root + 1);
}

/* A trunk of about the square root of all pieces; from it, side forks of two
 * or three pieces to the left and right in turn, at most two from each piece
 * of the trunk; any more grow from the first piece of an earlier fork. */
static void grow_tree(struct layout *l)
{
    int all = l->branch_channels, trunk = trunk_length(all);
    int first[TC_MAX_CHANNELS] = { 0 }; /* channel number of each fork's first piece */
    for (int i = 0; i < trunk; i++) {
        snprintf(l->at[i].name, NAME_MOST, i == trunk - 1 && trunk > 1 ? "trunk tip" : "trunk %d", i + 1);
        l->at[i].parent = i;
    }
    int open = trunk > 1 ? trunk - 1 : 1; /* pieces of the trunk that fork: not its tip */
    for (int next = trunk, fork = 0; next < all; fork++) {
        int pieces = least(fork % 3 == 1 ? 3 : 2, all - next);
        const char *side = (fork + fork / open) % 2 ? "right" : "left";
        first[fork] = next + 1;
        for (int k = 0; k < pieces; k++, next++) {
            const char *part = k == 0 ? "" : k == pieces - 1 ? " tip" : " middle";
            snprintf(l->at[next].name, NAME_MOST, "%s fork %d%s", side, fork + 1, part);
            int from = fork < 2 * open ? fork % open + 1 : first[fork - 2 * open];
            l->at[next].parent = k ? next : from;
        }
    }
}

static void name_floods(struct layout *l)
{
    static const char *const pair[] = { "flood left", "flood right" };
    struct planned *at = &l->at[l->branch_channels];
    for (int i = 0; i < l->flood_channels; i++) {
        if (l->flood_channels == 2) snprintf(at[i].name, NAME_MOST, "%s", pair[i]);
        else snprintf(at[i].name, NAME_MOST, "flood %d", i + 1);
    }
}

/* ---- Writing ---- */

static void write_head(struct writer *w, const struct rig_plan *plan, const struct layout *l)
{
    int channels = l->branch_channels + l->flood_channels;
    writer_format(w, "; A rig for %d light string%s along the bolt and %d flood%s, on %d dimmer channel%s.\n"
            "; Names, forks, watts and circuits are proposals: change them to what hangs there, then\n"
            "; look at the sums with: thundercue rig THIS-FILE\n",
            plan->branches, plan->branches == 1 ? "" : "s", plan->floods, plan->floods == 1 ? "" : "s",
        channels,
            channels == 1 ? "" : "s");
    if (plan->branches > l->branch_channels)
        writer_format(w,
                      "; %d strings share %d channel%s: those of one channel light "
                      "together, so hang them side by side.\n",
                plan->branches, l->branch_channels, l->branch_channels == 1 ? "" : "s");
    if (plan->floods > l->flood_channels)
        writer_format(w, "; %d floods share %d channel%s: those of one channel light together.\n",
                plan->floods, l->flood_channels, l->flood_channels == 1 ? "" : "s");
    writer_text(w, "; Read watts from the labels. Local code and a licensed electrician decide on the wiring, a\n"
          "; qualified rigger on what hangs overhead.\n\n"
          "[rig]\n"
          "name = New bolt\n");
    writer_format(w, "mains_volts = %.0f\nmains_hz = 60            ; 50 with 230 V\n\n", NEW_VOLTS);
    writer_text(w, "; A circuit is what one breaker feeds.\n");
    for (int i = 1; i <= l->circuits; i++)
        writer_format(w, "[circuit C%d]\nbreaker_amps = %.0f\n", i, NEW_BREAKER);
}

static void write_channel(struct writer *w, const struct layout *l, int i)
{
    const struct planned *p = &l->at[i];
    bool branch = i < l->branch_channels;
    writer_format(w, "\n[channel %d]\nname = %s\nkind = %s\n", i + 1, p->name,
                  rig_kind_word(branch ? TC_BRANCH : TC_FLOOD));
    if (branch && p->parent) writer_format(w, "parent = %d\n", p->parent);
    if (branch && !p->parent) writer_text(w, "parent =                 ; empty: a root, at the cloud\n");
    writer_format(w, "watts = %d", channel_watts(l, i));
    if (p->lamps > 1)
        writer_format(w, "               ; %d %s of %d W share this channel",
                p->lamps, branch ? "strings" : "floods",
                branch ? STRING_WATTS : FLOOD_WATTS);
    writer_format(w, "\ncircuit = C%d\n", p->circuit);
}

enum tc_status rig_new_write(struct tc_sink to, const struct rig_plan *plan, struct tc_problem *why)
{
    if (plan->branches < 0 || plan->branches > RIG_PLAN_MOST || plan->floods < 0 || plan->floods > RIG_PLAN_MOST)
        return problem_set(why, TC_ERR_USAGE, "a new rig has 0 to %d branches and 0 to %d floods",
                           RIG_PLAN_MOST, RIG_PLAN_MOST);
    if (plan->channels < 0 || plan->channels > TC_MAX_CHANNELS)
        return problem_set(why, TC_ERR_USAGE, "a rig has 1 to %d channels", TC_MAX_CHANNELS);
    if (!plan->branches && !plan->floods)
        return problem_set(why, TC_ERR_USAGE, "a new rig needs at least one branch or flood");
    if (plan->branches && plan->floods && plan->channels == 1)
        return problem_set(why, TC_ERR_USAGE, "one channel can't carry both branches and floods: give it at least 2");

    struct layout l = { 0 };
    share_channels(&l, plan);
    if (l.branch_channels) share_lamps(l.at, l.branch_channels, plan->branches);
    if (l.flood_channels) share_lamps(&l.at[l.branch_channels], l.flood_channels, plan->floods);
    share_circuits(&l);
    grow_tree(&l);
    name_floods(&l);

    struct writer w;
    writer_begin(&w, to);
    write_head(&w, plan, &l);
    for (int i = 0; i < l.branch_channels + l.flood_channels; i++) {
        if (i == 0 && l.branch_channels)
            writer_text(&w, "\n; Branches: `parent` is the channel that a branch grows from.\n"
                  "; Try each string: the level in percent at which it first lights is its min_level.\n");
        if (i == l.branch_channels) writer_text(&w, "\n; Floods light the ground, the trees and the far storm.\n");
        write_channel(&w, &l, i);
    }
    return writer_end(&w);
}

/* ---- The example ---- */

/* In blocks, as a C string literal has its limits. */
static const char *const example[] = {
    "; An example of a rig file for thundercue: a small bolt over a pond.\n"
    "; A ; at the start of a line, or after a space, begins a comment.\n"
    "; Keys that are not marked 'needed' may be left out. Change it, save it, and look at the\n"
    "; sums with: thundercue rig THIS-FILE\n"
    "\n"
    "[rig]\n"
    "name = Small bolt\n"
    "mains_volts = 120        ; default 120\n"
    "mains_hz = 60            ; default 60\n"
    "\n",
    "; One section for each circuit, which is what one breaker feeds.\n"
    "[circuit left]\n"
    "breaker_amps = 15        ; needed\n"
    "[circuit right]\n"
    "breaker_amps = 15\n"
    "volts = 120              ; default: mains_volts\n"
    "\n"
    "; What holds for every channel that doesn't say otherwise: any key but name, parent, slot\n"
    "; and those of where it hangs.\n"
    "[defaults]\n"
    "circuit = left\n"
    "\n"
    "; One section for each channel of the dimmer, numbers 1 to 512, in any order.\n"
    "; Branches are light strings along the bolt; `parent` tells how they fork.\n"
    "[channel 1]\n"
    "name = trunk top\n"
    "kind = branch            ; needed: branch or flood\n"
    "parent =                 ; the channel of the branch that it grows from; empty = a root\n"
    "watts = 5                ; needed: nameplate of all lamps on this channel\n"
    "circuit = left           ; needed, here or in [defaults]\n"
    "curve = linear           ; how level becomes light: linear (default), square or lstar\n"
    "min_level = 12           ; percent at which the lamp first lights; default 0\n"
    "max_level = 100          ; percent beyond which it gets no brighter; default 100\n"
    "lamp = led               ; led (default) or incandescent\n"
    "max_amps = 1.2           ; of this output of the dimmer\n",
    "cord_length_ft = 60      ; one way, from the dimmer; or cord_length_m\n"
    "cord_awg = 16            ; its gauge\n"
    "; Where it hangs, for the picture on the page: percent from the picture's left edge, and up from\n"
    "; the ground. Left out, the bolt is laid out by its forks. The page writes these when lights are\n"
    "; dragged.\n"
    "x = 44                   ; of its lower end\n"
    "y = 62\n"
    "start_x = 41             ; of its upper end; only for a root\n"
    "start_y = 100\n"
    "\n"
    "[channel 2]\n"
    "name = trunk tip\n"
    "kind = branch\n"
    "parent = 1\n"
    "watts = 5\n"
    "min_level = 12\n"
    "\n"
    "[channel 3]\n"
    "name = left fork\n"
    "kind = branch\n"
    "parent = 1\n"
    "watts = 5\n"
    "min_level = 12\n"
    "x = 27\n"
    "y = 48\n"
    "fork = 60                ; how far along its parent it begins, in percent; 100 = at the end\n"
    "\n"
    "; Floods light the ground and the trees, and they carry the far storm.\n"
    "[channel 5]\n"
    "name = flood over the pond\n"
    "kind = flood\n"
    "watts = 15\n"
    "lumens = 1300            ; light counts by watts, unless every channel tells its lumens\n"
    "circuit = right\n"
    "rise_ms = 20             ; how slowly the lamp itself starts and stops; default 0\n"
    "fall_ms = 60\n"
    "lead_ms = 10             ; tell this channel so much earlier; default 0\n"
    "group = pond             ; channels of one group are counted for flashes on their own, too\n"
    "x = 30                   ; where it stands\n"
    "y = 0\n"
    "\n",
    "[channel 6]\n"
    "name = flood on the mill\n"
    "kind = flood\n"
    "watts = 15\n"
    "circuit = right\n"
    "group = pond\n"
    "\n"
    "; A bank of the dimmer: consecutive channels that share a limit.\n"
    "[bank A]\n"
    "first = 1\n"
    "last = 8\n"
    "max_amps = 8\n"
    "\n"
    "; The line that carries the bolt, for the rig sheet to work out its pull. Feet and pounds or\n"
    "; metres and kilograms, by the end of each key (_ft, _in, _lb, _lb_per_ft; _m, _kg, _kg_per_m, _n).\n"
    "[overhead]\n"
    "span_ft = 50             ; between its ends\n"
    "sag_ft = 2.5             ; how far the middle hangs below them; or sag_in\n"
    "centre_lb = 5            ; what hangs in the middle\n"
    "uniform_lb_per_ft = 0.1  ; what is spread along it, the rope itself included\n"
    "breaking_lb = 1500       ; of the new rope, from its label\n"
    "knot = bowline           ; figure-8, bowline, clove-hitch, unknown, or the share of strength left, as 0.7\n"
    "design_factor = 12       ; 12 and more over people, common practice\n"
    "\n"
    "; Where `play` and `light` send the levels (ANSI E1.31). Channel N has slot first_slot + N - 1,\n"
    "; unless its section says slot = ...\n"
    "[network]\n"
    "universe = 1             ; 1 to 63999\n"
    "first_slot = 1           ; of channel 1\n"
    "priority = 100           ; 0 to 200; of two senders receivers follow the higher one\n",
};

enum tc_status rig_new_example(struct tc_sink to)
{
    struct writer w;
    writer_begin(&w, to);
    for (size_t i = 0; i < sizeof example / sizeof *example; i++) writer_text(&w, example[i]);
    return writer_end(&w);
}
