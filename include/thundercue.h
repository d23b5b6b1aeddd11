/* thundercue: from a thunder recording to a flash timeline for a dimmer rig.
 *
 * This header is the manual of the library. What is not in it is not API.
 *
 * The job has three plain steps, and each has its own part below:
 *
 *     recording  --listen-->  struct tc_analysis   (events and envelope)
 *     analysis + rig + settings  --cue-->  struct tc_timeline   (pulses)
 *     timeline  --play-->  levels of every channel, light frame by light frame
 *
 * Listening streams: push samples in blocks of any size, the result is the
 * same. Cueing is a pure function: the same analysis, rig and settings give
 * the same timeline on every machine. Playing hands out one light frame after
 * the other, kept to the safe flash rate, and needs no memory per frame.
 *
 * For example, from sound in memory to the levels of every light frame:
 *
 *     static enum tc_status make_show(const float *samples, size_t frames, double rate, int channels,
 *                                     void (*send)(const uint16_t *levels, size_t count))
 *     {
 *         struct tc_settings s = tc_settings_default();
 *         struct tc_analysis heard;
 *         struct tc_timeline plan = { 0 };
 *         struct tc_player *player = NULL;
 *         struct tc_rig rig;
 *         uint16_t levels[TC_MAX_CHANNELS];
 *
 *         s.sensitivity = 60;
 *         enum tc_status status = tc_listen(samples, frames, rate, channels, &s, NULL, &heard);
 *         if (status != TC_OK) return status;
 *         status = tc_rig_builtin(&rig);
 *         if (status == TC_OK) status = tc_cue(&heard, &rig, &s, NULL, &plan, NULL);
 *         if (status == TC_OK) status = tc_player_create(&player, &plan, &rig, &s, NULL);
 *         if (status == TC_OK)
 *             while (tc_player_step(player, levels)) send(levels, rig.channel_count);
 *         tc_player_destroy(player);
 *         tc_timeline_clear(&plan);
 *         tc_rig_clear(&rig);
 *         tc_analysis_clear(&heard);
 *         return status;
 *     }
 *
 * Contexts (listener, player) are independent of each other: one per thread.
 * The library keeps no state of its own, prints nothing and never exits.
 * Who creates destroys; what is handed in as a pointer is borrowed for the
 * call, unless a comment says for how long.
 * Times end in their unit: `_ms`, `_s`; `frame` counts light frames. Those of
 * recordings, events and timelines are whole; settings and lamps' times may
 * have fractions. Light is 0..1, relative light output; levels are what the
 * dimmer is told. */
#ifndef THUNDERCUE_H
#define THUNDERCUE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define TC_VERSION "0.1.0"

#ifdef __cplusplus
extern "C" {
#endif

#if defined __GNUC__
#pragma GCC visibility push(default)
#endif

/* The version of the library that is running, to compare with TC_VERSION. A
 * shared library of the same first number serves programs built with an
 * earlier one. */
const char *tc_version(void);

/* ---- Outcome ------------------------------------------------------------ */

/* Everything that can fail returns one of these. The values are pinned. */
enum tc_status {
    TC_OK = 0,
    TC_ERR_USAGE = 1,    /* an argument or a setting out of its bounds */
    TC_ERR_RIG = 2,      /* a rig, or rig file, that is wrong, or a rig file that can't be read */
    TC_ERR_FORM = 3,     /* an events, labels, frames or settings file in a wrong form */
    TC_ERR_READ = 4,     /* a recording that can't be read: the program's, no call returns it */
    TC_ERR_WRITE = 5,    /* an output that can't be written: for your sinks, no call has its own */
    TC_ERR_EXISTS = 6,   /* an output that is there already: the program's, no call returns it */
    TC_ERR_MEMORY = 7,   /* out of memory */
    TC_ERR_STOPPED = 8,  /* the caller asked to stop (struct tc_watch) */
    TC_ERR_INTERNAL = 9, /* a promise of this library broken: please report */
    TC_STATUS_COUNT
};

/* What the status means, in a few words; "unknown status" out of range. A
 * constant, not to be freed. */
const char *tc_status_text(enum tc_status status);

/* One line that says who, where, what and what would be right. Filled in by
 * the calls that take one, when they fail (of what a sink of yours returned it
 * says no more than tc_status_text); NULL is accepted everywhere. UTF-8,
 * without a line end; what it quotes of a text is shown as plain characters. */
struct tc_problem {
    char text[1024];
};

/* Where text goes that the library writes: a function of yours that takes the
 * next bytes and returns TC_OK. What else it returns ends the writing and is
 * handed on. */
struct tc_sink {
    enum tc_status (*write)(void *to, const char *bytes, size_t size);
    void *to;
};

/* ---- Watching and stopping ---------------------------------------------- */

/* For calls that may take long. Any of them may be NULL, and so may a pointer
 * to it. Both are called on the thread of the call, a few hundred times at
 * most; neither may call back into the same context. */
struct tc_watch {
    bool (*stop)(void *with);                     /* true: give up, TC_ERR_STOPPED */
    void (*progress)(void *with, double share);   /* 0..1 of the call's work, never less than before */
    void *with;                                   /* handed to both as it is */
};

/* ---- Settings ----------------------------------------------------------- */

enum tc_levels { TC_LEVELS_PERCENT, TC_LEVELS_8BIT };

/* Every number that shapes the result, each with one row in the table of
 * src/lib/words/settings.c, where its unit, default, bounds and meaning stand (print
 * them with `thundercue cue --help`). Later versions add fields at the end:
 * `size` tells the library which ones the program knows, the others have their
 * defaults. Always begin with tc_settings_default, then change fields by name;
 * where a call takes settings, NULL stands for the defaults. */
struct tc_settings {
    size_t size;                /* sizeof(struct tc_settings), set by tc_settings_init */
    /* listening */
    double sensitivity;         /* 0..100 */
    /* light frames and levels */
    int64_t frame_rate;         /* light frames a second, 1..120 */
    int levels;                 /* enum tc_levels */
    int64_t seed;
    /* safety */
    int64_t flash_limit;        /* flashes in any second; 0 = off */
    bool loop;                  /* the timeline repeats: the seam counts */
    /* light against sound */
    double lead_ms;             /* light this much earlier */
    double distance_m;          /* the sound starts later by the time that it takes over this: at
                                 * 331.3 sqrt(1 + temperature_c / 273.15) m/s */
    double temperature_c;       /* of the air, -50..60 */
    double from_s, to_s;        /* light only this part; to_s 0 = the end */
    double shift_s;             /* add this to all times written */
    /* strokes of a flash */
    double stroke_stop;         /* p of the shifted geometric stroke count */
    double interval_ms;         /* geometric mean of the interval between strokes */
    double interval_decades;    /* standard deviation of its log10 */
    double restrike_light;      /* geometric mean of later strokes' intensity, first = 1 */
    double restrike_decades;    /* standard deviation of its log10 */
    double new_path;            /* chance of a new path at the second stroke */
    double later_path;          /* and at each later one */
    double heard_ms;            /* attacks this long after a crack are restrikes; 0 = all are drawn */
    double glow_chance;         /* chance that a stroke ends in a continuing glow */
    double glow_light;          /* its light, stroke = 1 */
    double glow_ms;             /* its typical length, geometric mean */
    double glow_decades;        /* standard deviation of its log10 */
    double decay_ms;            /* time constant of a stroke's light on branches */
    double flood_decay_ms;      /* and on floods */
    double leader;              /* light of the leader before a crack; 0 = none */
    /* to taste */
    double strength;            /* scales all light of strokes, 0..1 */
    double branch_share;        /* scales the branches, 0..1 */
    double flood_share;         /* scales the floods, 0..1 */
    double weakest_light;       /* light of the weakest crack, strongest = 1 */
    double far_light;           /* light of the floods for a far crack, near = 1 */
    double fork_share;          /* how readily side forks light, 0..1 */
    double fork_light;          /* light of side forks, path = 1 */
    double restrike_forks;      /* forks come again with restrikes, in shares of the first stroke's */
    double rumble_light;        /* light of floods in the loudest rumble, 0..1 */
    double glimmer;             /* chance of in-cloud glimmers in rumbles, 0..1 */
    double near_sharpness;      /* a crack at least this sharp is near */
    double far_sharpness;       /* a crack at most this sharp is far */
    /* the table of light frames */
    int64_t outputs;            /* 0: a column for each channel of the rig; else one for every output
                                 * from 1 to the rig's highest, or to this one if it is higher */
};

/* Fills in the defaults. `size` is sizeof(struct tc_settings) of the program's
 * own header, which tc_settings_default below knows. */
void tc_settings_init(struct tc_settings *s, size_t size);

static inline struct tc_settings tc_settings_default(void)
{
    struct tc_settings s;
    tc_settings_init(&s, sizeof s);
    return s;
}

/* Sets one setting from text, as on the command line: name without dashes.
 * TC_ERR_USAGE if there is no such name or the value is out of its bounds. */
enum tc_status tc_settings_set(struct tc_settings *s, const char *name, const char *value,
                               struct tc_problem *why);

/* TC_ERR_USAGE if any field is out of its bounds, two contradict, or they were
 * not begun with tc_settings_default. */
enum tc_status tc_settings_check(const struct tc_settings *s, struct tc_problem *why);

/* Settings files: `name = value` lines, as on the command line without the
 * dashes; ';' and '#' begin comments. Reads one that lies in memory over *s;
 * `shown` is its name in messages. TC_ERR_FORM with *why naming file and line;
 * what stood before the wrong line has been set. */
enum tc_status tc_settings_read(const char *text, size_t size, const char *shown,
                                struct tc_settings *s, struct tc_problem *why);

/* Writes those that differ from the defaults, or all. TC_ERR_USAGE for settings
 * out of their bounds, or what the sink returned. */
enum tc_status tc_settings_write(const struct tc_settings *s, bool all, struct tc_sink to,
                                 struct tc_problem *why);

/* ---- Listening ---------------------------------------------------------- */

enum tc_event_kind { TC_CRACK, TC_RUMBLE };

enum { TC_PATH_MAX_CHANNELS = 16 };

/* Something heard. A crack is a moment (end_ms == start_ms == peak_ms unless a
 * file says otherwise); a rumble is the interval [start_ms, end_ms). */
struct tc_event {
    enum tc_event_kind kind;
    int64_t start_ms, end_ms, peak_ms;
    float strength;   /* 0..1 in steps of 0.01; the loudest crack of a recording has 1 */
    float sharpness;  /* 0..1 in steps of 0.01; near is sharp, far is dull */
    float level_dbfs; /* RMS at the peak, of a crack from 60 Hz to 11 kHz, of a rumble from 40 to 600 Hz;
                         a full-scale sine is 0 dBFS (AES17) */
    /* hand control, only from an events file; zero means: as drawn */
    int strokes;                             /* forced number of strokes, 1..20 */
    int path_count;                          /* forced channels; 0 = free */
    uint16_t path[TC_PATH_MAX_CHANNELS];     /* channel numbers */
};

/* A possible crack, before the sensitivity has its say. */
struct tc_candidate {
    int64_t at_ms;
    float found_at;   /* the lowest sensitivity, 0..100, at which it counts as a crack */
    float loudness;   /* for strength: relative, linear; the greatest becomes 1 */
    float sharpness, level_dbfs;
};

enum { TC_OVERVIEW_COLUMNS = 4096, TC_OVERVIEW_BANDS = 15 };

/* A drawing of the whole recording in a fixed number of columns, whatever its
 * length: peak and band levels, each the maximum within the column. Levels
 * are in half decibels over -127.5 dBFS, so 255 is full scale. */
struct tc_overview {
    size_t count;                    /* columns in use */
    int64_t steps_each;              /* analysis steps (5 ms) in a column */
    uint8_t peak[TC_OVERVIEW_COLUMNS];   /* sample peak below 11 kHz, 0..255 linear */
    uint8_t band[TC_OVERVIEW_COLUMNS][TC_OVERVIEW_BANDS];
};

/* All that cueing needs to know of a recording: plain data. */
struct tc_analysis {
    int64_t length_ms;          /* of the recording, rounded up */
    double sample_rate;         /* Hz; 0 if there was no recording */
    int channels;
    struct tc_event *events;    /* by start, cracks before rumbles at the same start */
    size_t event_count;
    struct tc_candidate *candidates;
    size_t candidate_count;
    uint8_t *envelope;          /* low-band level per light frame, half dB over -127.5 dBFS */
    size_t envelope_count;
    int64_t frame_rate;         /* light frames a second of the envelope; 0 = without one */
    double sensitivity;         /* at which the events were chosen: a candidate that counts as a
                                 * crack there but is not among them was deleted by hand; -1 = not
                                 * known, as after reading events without a recording */
    int64_t bad_samples;        /* NaN and infinities, taken as silence */
    struct tc_overview *overview; /* may be NULL */
};

/* Frees what the analysis holds and zeroes it; a zeroed one is fine. */
void tc_analysis_clear(struct tc_analysis *a);

/* For example, from a source that gives sound bit by bit:
 *
 *     static enum tc_status hear(size_t (*read)(float *to, size_t frames), double rate, int channels,
 *                                struct tc_analysis *heard)
 *     {
 *         struct tc_listener *ear;
 *         float block[4096];
 *         enum tc_status status = tc_listener_create(&ear, NULL, rate, channels);
 *         if (status != TC_OK) return status; // no such number of channels, for one
 *         size_t room = sizeof block / sizeof *block / (size_t)channels, n;
 *         while (status == TC_OK && (n = read(block, room)) > 0) status = tc_listener_push(ear, block, n);
 *         if (status == TC_OK) status = tc_listener_finish(ear, heard);
 *         tc_listener_destroy(ear);
 *         return status;
 *     }
 */
struct tc_listener;

/* A listener for one recording. `rate` in Hz, 1000..768000 (made for 8000 to
 * 192000); `channels` 1..64. Of the settings `sensitivity` and `frame_rate`
 * count. TC_ERR_USAGE, TC_ERR_MEMORY; then *out is NULL. All working memory is
 * allocated here; only the result grows later. */
enum tc_status tc_listener_create(struct tc_listener **out, const struct tc_settings *s,
                                  double rate, int channels);

/* Takes `frames` sample frames (each one sample of every channel), interleaved,
 * full scale +-1; NaN and infinities count as silence. Any block size gives the
 * same result. TC_ERR_MEMORY; then the listener can only be destroyed. */
enum tc_status tc_listener_push(struct tc_listener *l, const float *samples, size_t frames);

/* Ends the recording and moves the result into *out, which the caller clears.
 * The listener can only be destroyed afterwards. TC_ERR_MEMORY. */
enum tc_status tc_listener_finish(struct tc_listener *l, struct tc_analysis *out);

/* NULL is fine. */
void tc_listener_destroy(struct tc_listener *l);

/* All of that in one call, for a recording that lies in memory as a whole.
 * TC_ERR_USAGE, TC_ERR_MEMORY, TC_ERR_STOPPED; then *out is empty. */
enum tc_status tc_listen(const float *samples, size_t frames, double rate, int channels,
                         const struct tc_settings *s, const struct tc_watch *watch,
                         struct tc_analysis *out);

/* Chooses the events again from the candidates, at another sensitivity, 0..100.
 * Rumbles and envelope stay as they are; cracks changed or deleted by hand come
 * back as they were heard. TC_ERR_USAGE, TC_ERR_MEMORY; then *a is as it was. */
enum tc_status tc_analysis_choose(struct tc_analysis *a, double sensitivity);

/* Writes the events as events.csv: kind,start_s,end_s,peak_s,strength,sharpness,
 * level_dbfs, strokes and path if any has them, sensitivity and frame_rate of
 * the analysis; times in seconds with 3 decimals. The file may be edited and
 * cued from again. TC_ERR_USAGE for a path longer than its room, or what the
 * sink returned. */
enum tc_status tc_events_write(const struct tc_analysis *a, struct tc_sink to,
                               struct tc_problem *why);

/* Reads an events file that lies in memory (as written above, or edited: comma,
 * semicolon or tab, columns and rows in any order; only kind and start_s must
 * be there) and puts its events in the place of those of *a. What starts after
 * the end of the recording is left out and counted in *left_out (may be NULL).
 * TC_ERR_FORM with *why naming file and line, then *a is as it was;
 * TC_ERR_MEMORY. */
enum tc_status tc_events_read(const char *text, size_t size, const char *shown,
                              struct tc_analysis *a, size_t *left_out, struct tc_problem *why);

/* For events without a recording, read into an empty analysis: gives it a length
 * (a little more than its events), a frame rate, and an envelope, a hill around
 * the peak of each rumble. TC_ERR_USAGE for a frame rate out of its bounds and
 * for times that can't be, TC_ERR_MEMORY; then *a is as it was.
 *
 * For example, to cue from an events file alone:
 *
 *     static enum tc_status cue_events(const char *text, size_t size, const struct tc_rig *rig,
 *                                      struct tc_timeline *plan, struct tc_problem *why)
 *     {
 *         struct tc_settings s = tc_settings_default();
 *         struct tc_analysis a = { 0 };
 *         enum tc_status status = tc_events_read(text, size, "storm.events.csv", &a, NULL, why);
 *         if (status == TC_OK) status = tc_analysis_imagine(&a, s.frame_rate);
 *         if (status == TC_OK) status = tc_cue(&a, rig, &s, NULL, plan, why);
 *         tc_analysis_clear(&a);
 *         return status;
 *     }
 */
enum tc_status tc_analysis_imagine(struct tc_analysis *a, int64_t frame_rate);

/* ---- The rig ------------------------------------------------------------ */

/* A rig comes from a file, is the built-in one, or is filled in by hand. Calls
 * that take one return TC_ERR_RIG where an index, a number or a name in it is
 * not as the structs below have it. */

enum tc_channel_kind { TC_BRANCH, TC_FLOOD };
/* How level becomes light. With c = (level - min_level) / (max_level - min_level),
 * 0..1: linear: light = c; square law: light = c^2; L*: 100 c is the CIE 1976
 * lightness of the light. Below min_level there is none. */
enum tc_curve { TC_CURVE_LINEAR, TC_CURVE_SQUARE, TC_CURVE_LSTAR };
enum tc_lamp { TC_LAMP_LED, TC_LAMP_INCANDESCENT };

enum { TC_MAX_CHANNELS = 512, TC_NAME_SIZE = 400 };

struct tc_channel {
    int number;                  /* 1..512, the dimmer's number */
    char name[TC_NAME_SIZE];
    enum tc_channel_kind kind;
    int parent;                  /* index of the branch it grows from, -1 = a root */
    int circuit;                 /* index into circuits; ignored where there are none */
    int group;                   /* index into groups, -1 = none */
    double watts;                /* nameplate */
    double lumens;               /* 0 = unknown, then watts stand in */
    enum tc_curve curve;
    double min_level, max_level; /* percent: where the lamp first lights; its top */
    enum tc_lamp lamp;
    double rise_ms, fall_ms;     /* of the lamp itself; 0 = at once */
    double lead_ms;              /* tell this channel that much earlier */
    double max_amps;             /* of the dimmer's output; 0 = not given */
    double cord_length;          /* one way; 0 = not given */
    bool cord_metric;            /* cord_length in metres, else feet */
    bool placed, start_placed;   /* where it hangs is given, below */
    int cord_awg;                /* 0 = not given */
    int slot;                    /* on the light network; 0 = after its number, see tc_network */
    /* Where it hangs, for drawings alone: percent of the picture, x from its
     * left edge, y up from the ground to its top. A drawing may place
     * anything not given here as it likes. */
    double x, y;                 /* where a branch ends, or a flood stands, if `placed` */
    double start_x, start_y;     /* where a root begins, if `start_placed` */
    double fork;                 /* where another branch begins: percent of the way along its
                                    parent, 1..100; 0 = not given */
};

struct tc_circuit {
    char name[TC_NAME_SIZE];
    double breaker_amps;
    double volts;
};

/* A part of the rig that is counted for flashes on its own. */
struct tc_group {
    char name[TC_NAME_SIZE];
};

/* A bank of the dimmer: consecutive channels that share an ampere limit. */
struct tc_bank {
    char name[TC_NAME_SIZE];
    int first, last;             /* channel numbers */
    double max_amps;
};

/* The line that carries the branches, for the rig sheet's sums. Zero where
 * the rig file says nothing. Lengths in m, weights in N, sums in N. */
struct tc_overhead {
    bool given, metric;
    double span_m, sag_m;
    double centre_n;             /* weight hung in the middle */
    double uniform_n_per_m;      /* weight spread along the line */
    double breaking_n;           /* minimum breaking strength of the rope */
    double knot;                 /* share of strength left by the knot, 0..1 */
    double design_factor;
};

/* Where the rig's levels go on a light network (ANSI E1.31). Slots are counted
 * on: 513 is the first of the next universe. Channel N has slot
 * first_slot + N - 1 unless it says otherwise. */
struct tc_network {
    int universe;                /* 1..63999; 0 = 1 */
    int first_slot;              /* 1..512; 0 = 1 */
    int priority;                /* 0..200; the usual one is 100 */
    char to[TC_NAME_SIZE];       /* host[:port]; empty = the universe's multicast group */
};

struct tc_rig {
    char name[TC_NAME_SIZE];
    double mains_volts, mains_hz;
    struct tc_channel *channels; /* by number */
    size_t channel_count;
    struct tc_circuit *circuits;
    size_t circuit_count;
    struct tc_group *groups;
    size_t group_count;
    struct tc_bank *banks;
    size_t bank_count;
    struct tc_overhead overhead;
    struct tc_network network;
};

/* The built-in rig: channels 1-12 branches of 5 W, 13-16 floods of 15 W, all
 * linear 0..100, one circuit of 15 A at 120 V. TC_ERR_MEMORY; then *out is
 * empty. */
enum tc_status tc_rig_builtin(struct tc_rig *out);

/* Reads a rig file that lies in memory; `shown` is its name in messages (and
 * the rig's, without folders, if the file gives none). The README tells the
 * keys, `thundercue rig --example` prints them. TC_ERR_RIG with *why naming
 * file and line, TC_ERR_MEMORY; then *out is empty. */
enum tc_status tc_rig_read(const char *text, size_t size, const char *shown, struct tc_rig *out,
                           struct tc_problem *why);

/* Writes a rig file that reads back as the same rig. TC_ERR_RIG where a channel
 * is on no circuit, which a rig file needs; TC_ERR_USAGE for a name
 * that a rig file can't carry (of several lines, with a ']' in a circuit's or
 * bank's, with a ';' after a space), or what the sink returned. */
enum tc_status tc_rig_write(const struct tc_rig *rig, struct tc_sink to, struct tc_problem *why);

/* Frees what the rig holds and zeroes it; a zeroed one is fine. */
void tc_rig_clear(struct tc_rig *rig);

/* ---- Cueing ------------------------------------------------------------- */

/* One lamp's part in a stroke, or that of several lamps that do the same.
 *
 *   light
 *   peak |      .
 *        |     /|\_
 *        |    / |  \___
 *        |   /  |      \______ glow ______
 *        |__/   |                         \__
 *           |rise|  fall      |  hold     |      in light frames
 *              frame
 *
 * With a fall of 0 it is a ramp instead: straight from the glow at
 * `frame - rise` to the peak at `frame`, and nothing after. Where pulses meet
 * on a channel the brightest wins; a ramp with `hold` 1 is background, as
 * rumbles use it, on top of which the others shine. */
struct tc_pulse {
    uint32_t frame;      /* light frame of the peak; the rise ends here */
    uint16_t channel;    /* index into the rig's channels, or a set of them */
    uint16_t peak;       /* light, 65535 = 1 */
    uint16_t rise;       /* frames of rise before the peak; 0 = within the frame */
    uint16_t fall;       /* frames from the peak down to the glow, exponential */
    uint16_t glow;       /* light of the glow, 65535 = 1 */
    uint16_t hold;       /* frames of glow; then as many of `fall` to black */
};

/* Sets of channels, as a pulse names them. */
enum {
    TC_SET_PATH = 0x8000,     /* + i: channel i and all that it grows from, up to the root */
    TC_SET_FLOODS = 0x4000   /* + enum tc_side: floods */
};
/* Floods in rig order: all, the first half, the second (an odd one is in both). */
enum tc_side { TC_SIDE_BOTH, TC_SIDE_FIRST, TC_SIDE_SECOND, TC_SIDE_COUNT };

enum { TC_NO_TIP = 65535 };   /* a stroke without a path */

/* One lighting-up of the bolt. */
struct tc_stroke {
    uint32_t frame;
    uint32_t event;      /* index in the analysis of its crack, or rumble (a glimmer) */
    uint8_t order;       /* 0 = first stroke, 1.. = restrikes */
    bool heard;          /* placed by an attack in the sound, not drawn */
    bool yields;         /* leaves the last room in its second to stronger strokes */
    uint16_t tip;        /* channel index of the path's tip; TC_NO_TIP: floods alone */
    float light;         /* 0..1 */
    uint32_t first_pulse, pulse_count;
};

struct tc_timeline {
    int64_t frame_rate;
    uint32_t frames;           /* rows of frames.csv; the last is black */
    struct tc_stroke *strokes; /* by frame */
    size_t stroke_count;
    struct tc_pulse *pulses;   /* those of a stroke together; strokes and ramps as they begin */
    size_t pulse_count;
    size_t dropped;            /* restrikes left out for the flash limit */
};

/* Plans the strokes and rumbles of a recording on a rig, and leaves out what
 * the flash limit has no room for: this is the show that the program writes.
 * TC_ERR_USAGE for settings out of their bounds and for another frame rate
 * than the analysis was made with, TC_ERR_MEMORY, TC_ERR_STOPPED; *why says
 * which, and *out is empty. Clear it with tc_timeline_clear. */
enum tc_status tc_cue(const struct tc_analysis *a, const struct tc_rig *rig,
                      const struct tc_settings *s, const struct tc_watch *watch,
                      struct tc_timeline *out, struct tc_problem *why);

/* Frees what the timeline holds and zeroes it; a zeroed one is fine. */
void tc_timeline_clear(struct tc_timeline *t);

/* ---- Playing ------------------------------------------------------------ */

struct tc_player;

/* Borrows timeline and rig until it is destroyed. Of the settings `levels`,
 * `flash_limit` and `loop` count. TC_ERR_USAGE for settings out of their bounds
 * or another frame rate than the timeline's, TC_ERR_MEMORY; then *out is NULL. */
enum tc_status tc_player_create(struct tc_player **out, const struct tc_timeline *t,
                                const struct tc_rig *rig, const struct tc_settings *s,
                                struct tc_problem *why);

/* The next light frame: the level of every channel, in rig order (so many as
 * the rig has channels), in tenths of a percent (0..1000) or 0..255 as the
 * settings say, limited to the safe flash rate. False after the last, which is
 * black. Never allocates. */
bool tc_player_step(struct tc_player *p, uint16_t *levels);

/* NULL is fine. */
void tc_player_destroy(struct tc_player *p);

/* ---- Files of a timeline ------------------------------------------------ */

/* Both play the timeline and write what the program writes: CSV by RFC 4180,
 * UTF-8, CRLF, '.' as decimal point whatever the locale. `shift_s` is added to
 * all times. TC_ERR_USAGE for settings out of their bounds or another frame
 * rate than the timeline's, TC_ERR_MEMORY, TC_ERR_STOPPED, or what the sink
 * returned.
 *
 * For example, into a file:
 *
 *     static enum tc_status put(void *to, const char *bytes, size_t size)
 *     {
 *         return fwrite(bytes, 1, size, (FILE *)to) == size ? TC_OK : TC_ERR_WRITE;
 *     }
 *
 *     static enum tc_status save(const char *path, const struct tc_timeline *t, const struct tc_rig *rig,
 *                                const struct tc_settings *s)
 *     {
 *         FILE *out = fopen(path, "wb");
 *         struct tc_sink sink = { put, out };
 *         if (!out) return TC_ERR_WRITE;
 *         enum tc_status status = tc_frames_write(t, rig, s, NULL, sink, NULL);
 *         if (fclose(out) != 0 && status == TC_OK) status = TC_ERR_WRITE;
 *         return status;
 *     }
 */

/* frames.csv: time_s and the level of every channel, a row for each light
 * frame: percent with 1 decimal or 0..255, the last row all zero. With the
 * setting `outputs` there is a column for every output of the dimmer instead,
 * for importers that go by position: headed "4 trunk tip" or, where nothing
 * hangs on it, "5" (always 0). */
enum tc_status tc_frames_write(const struct tc_timeline *t, const struct tc_rig *rig,
                               const struct tc_settings *s, const struct tc_watch *watch,
                               struct tc_sink to, struct tc_problem *why);

/* ramps.csv: channel,name,start_s,end_s,start_level,end_level, by start, then
 * channel. A channel holds its last end level between ramps and is 0 before
 * the first. Ramps start and end on levels of frames.csv and pass those between
 * by a quarter of a percent of the channel's light at most. */
enum tc_status tc_ramps_write(const struct tc_timeline *t, const struct tc_rig *rig,
                              const struct tc_settings *s, const struct tc_watch *watch,
                              struct tc_sink to, struct tc_problem *why);

/* ---- Checking a timeline ------------------------------------------------ */

/* What a part of the rig draws. A lamp is taken to draw its watts in proportion
 * to its level. */
struct tc_load {
    double all_on_w;           /* sum of nameplates */
    double reached_w;          /* most in any light frame of this timeline */
    int64_t reached_at_ms;
};

/* How a timeline flashes and what it draws, counted on its finished levels by
 * code that shares nothing with the limiter but lamps' weights and curves. A
 * flash is a pair of opposing changes (transitions) of a tenth or more of the
 * all-on light (WCAG 2.2, success criterion 2.3.1); a circuit should carry no
 * more than 80 % of its breaker for long. Local code and a licensed electrician
 * decide on the wiring. */
struct tc_check {
    bool too_fast;             /* more flashes in some second than the setting flash_limit allows */
    int64_t peak_transitions;  /* in the worst second, of the worst series */
    int64_t peak_at_ms;        /* the second that ends here; in the time of the files */
    char peak_series[64];      /* "all", "branches", "floods", "any group" or a group's name, cut
                                  with "..." where it is longer */
    int64_t transitions;       /* of the summed light, in all */
    int64_t extended_ms;       /* time spent in extended flashing: 4 s of any 5 at 4..6 transitions/s */
    double lit_share;          /* share of light frames with any light */
    int64_t longest_dark_ms;
    struct tc_load all;
    struct tc_load *circuits;  /* in rig order */
    size_t over_breaker;       /* circuits whose nameplates exceed 80 % of their breaker */
};

/* Plays the timeline and counts; with the setting loop, across the seam too.
 * TC_ERR_USAGE for settings out of their bounds or another frame rate than the
 * timeline's, TC_ERR_MEMORY, TC_ERR_STOPPED. Clear *out in any case. */
enum tc_status tc_check_run(const struct tc_timeline *t, const struct tc_rig *rig,
                            const struct tc_settings *s, const struct tc_watch *watch,
                            struct tc_check *out, struct tc_problem *why);

/* The same for a frames file that lies in memory, as tc_frames_write makes it,
 * or edited, or made elsewhere (comma, semicolon or tab; a column for each of
 * the rig's channels, by name and in its order, or for its outputs by number).
 * Of the settings `levels`, `flash_limit` and `loop` count. TC_ERR_FORM, with
 * *why naming file and line, for whatever is no timeline of this rig: a cell
 * that is no level, a level out of its range or above the channel's max_level,
 * times that do not rise in even steps, a column that is no channel, a channel
 * without a column, a last row that is not dark. The program's `check` lists all of it and takes
 * what it can; this call wants a whole file. TC_ERR_USAGE, TC_ERR_MEMORY,
 * TC_ERR_STOPPED. Clear *out in any case. */
enum tc_status tc_check_frames(const char *text, size_t size, const char *shown, const struct tc_rig *rig,
                               const struct tc_settings *s, const struct tc_watch *watch,
                               struct tc_check *out, struct tc_problem *why);

/* Frees what the check holds and zeroes it; a zeroed one is fine. */
void tc_check_clear(struct tc_check *c);

#if defined __GNUC__
#pragma GCC visibility pop
#endif

#ifdef __cplusplus
}
#endif

#endif
