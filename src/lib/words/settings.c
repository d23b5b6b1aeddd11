#include "words/settings.h"

#include <string.h>

#include "words/flash_rule.h"
#include "words/numbers.h"
#include "words/status.h"

/* A field's type tells what kind of setting it is. */
#define FIELD(field)                                                                                              \
    _Generic(((struct tc_settings *)0)->field, double: SETTING_NUMBER, int64_t: SETTING_WHOLE, int: SETTING_CHOICE, \
             bool: SETTING_SWITCH), offsetof(struct tc_settings, field)
#define HEAR SETTING_HEARING
#define CUE SETTING_CUEING
#define FRAMES SETTING_FRAMES
#define TIMES SETTING_TIMES
#define WRITE SETTING_WRITING
#define FLASH SETTING_FLASHES

/* What a program may bring as the size of its struct tc_settings: anything
 * else was not begun with tc_settings_default. */
#define SETTINGS_LEAST_SIZE (offsetof(struct tc_settings, sensitivity) + sizeof(double))
#define SETTINGS_MOST_SIZE 65536u

#define DAY_S 86400.0

/* Sources: Zhu et al. 2015, JASTP 136:16-22; Thomson et al. 1984, JGR 89; Rakov &
 * Uman 1990. What names none is show practice, no standard. */
static const struct setting table[] = {
    /* name             topic         use     field                   preset  least most  unit */
    { "sensitivity",    TOPIC_COMMON, HEAR,   FIELD(sensitivity),     50,     0,    100,  "", NULL,
      "how readily a sound counts as a crack; higher finds more" },
    { "frame-rate",     TOPIC_COMMON, FRAMES, FIELD(frame_rate),      40,     1,    120,  "per second", NULL,
      "light frames a second (a full DMX512-A universe of 512 slots carries at most 44 a second)" },
    { "levels",         TOPIC_COMMON, WRITE,  FIELD(levels),          0,      0,    1,    "percent|8bit", NULL,
      "write levels as percent with one decimal or as 0 to 255" },
    { "outputs",        TOPIC_COMMON, WRITE,  FIELD(outputs),         0,      0,    TC_MAX_CHANNELS, "", "rig|all",
      "columns of frames.csv: the rig's channels, or every output from 1 to the highest or to this number, unused ones 0" },
    { "seed",           TOPIC_COMMON, CUE,    FIELD(seed),            1,      0,    SETTING_SEED_MOST, "", NULL,
      "another number draws another show from the same sound" },
    { "lead",           TOPIC_COMMON, CUE,    FIELD(lead_ms),         0,      0,    5000, "ms", NULL,
      "light this much earlier, for slow lamps and controllers" },
    { "distance",       TOPIC_COMMON, CUE,    FIELD(distance_m),      0,      0,    20000, "m", NULL,
      "flash first, thunder later, as if the lightning were this far away" },
    { "temperature",    TOPIC_COMMON, CUE,    FIELD(temperature_c),   20,     -50,  60,   "deg C", NULL,
      "air temperature, which sets the speed of sound" },
    { "from",           TOPIC_COMMON, TIMES,  FIELD(from_s),          0,      0,    400000, "s", NULL,
      "leave out what starts before this moment of the recording" },
    { "to",             TOPIC_COMMON, TIMES,  FIELD(to_s),            0,      0,    400000, "s", "end",
      "leave out what starts at this moment of the recording or later" },
    { "shift",          TOPIC_COMMON, TIMES,  FIELD(shift_s),         0,      0,    DAY_S, "s", NULL,
      "add this to every time in the timeline, to fit into a longer show" },
    { "flash-limit",    TOPIC_SAFETY, FLASH,  FIELD(flash_limit),     3,      0,    FLASH_LIMIT_MOST, "per second", "off",
      "never more flashes than this in any second (WCAG 2.2, 2.3.1: three)" },
    { "loop",           TOPIC_SAFETY, FLASH,  FIELD(loop),            0,      0,    1,    "", NULL,
      "the timeline will be repeated: count flashes across the seam too" },
    { "stroke-stop",    TOPIC_STROKES, CUE,   FIELD(stroke_stop),     0.303,  0.05, 1,    "", NULL,
      "chance that a stroke is the last of its flash [Zhu 2015: mean 3.3 strokes, 30 % single]" },
    { "interval",       TOPIC_STROKES, CUE,   FIELD(interval_ms),     60,     10,   500,  "ms", NULL,
      "between strokes, geometric mean [Zhu 2015: 62 ms; Thomson 1984: 69 ms]" },
    { "interval-spread", TOPIC_STROKES, CUE,   FIELD(interval_decades), 0.32, 0,    1,    "decades", NULL,
      "spread of the interval, log-normal [Thomson 1984]" },
    { "restrike-light", TOPIC_STROKES, CUE,   FIELD(restrike_light),  0.52,   0,    1,    "", NULL,
      "light of later strokes, first = 1, geometric mean [Zhu 2015]" },
    { "restrike-spread", TOPIC_STROKES, CUE,   FIELD(restrike_decades), 0.30, 0,    1,    "decades", NULL,
      "spread of that light, log-normal [so that 41 % of flashes have a stronger one: Zhu 2015]" },
    { "new-path",       TOPIC_STROKES, CUE,   FIELD(new_path),        0.37,   0,    1,    "", NULL,
      "chance that the second stroke takes a new path [Rakov & Uman 1990]" },
    { "later-path",     TOPIC_STROKES, CUE,   FIELD(later_path),      0.09,   0,    1,    "", NULL,
      "chance that a later stroke takes a new path [most likely at the second: Rakov & Uman 1990]" },
    { "heard-within",   TOPIC_STROKES, CUE,   FIELD(heard_ms),        500,    0,    2000, "ms", "off",
      "fainter attacks this soon after a crack are its restrikes; where there are none, restrikes are drawn at random" },
    { "glow-chance",    TOPIC_STROKES, CUE,   FIELD(glow_chance),     0.4,    0,    1,    "", NULL,
      "chance that a flash has a continuing glow (30 to 50 % of flashes have a long one)" },
    { "glow-light",     TOPIC_STROKES, CUE,   FIELD(glow_light),      0.15,   0,    1,    "", NULL,
      "light of the glow, stroke = 1" },
    { "glow-length",    TOPIC_STROKES, CUE,   FIELD(glow_ms),         120,    0,    2000, "ms", NULL,
      "typical length of the glow" },
    { "glow-spread",    TOPIC_STROKES, CUE,   FIELD(glow_decades),    0.25,   0,    1,    "decades", NULL,
      "spread of that length, log-normal" },
    { "decay",          TOPIC_STROKES, CUE,   FIELD(decay_ms),        60,     5,    1000, "ms", NULL,
      "time constant with which a branch fades after a stroke" },
    { "flood-decay",    TOPIC_STROKES, CUE,   FIELD(flood_decay_ms),  110,    5,    2000, "ms", NULL,
      "time constant with which a flood fades after a stroke" },
    { "leader",         TOPIC_STROKES, CUE,   FIELD(leader),          0,      0,    0.5,  "", "off",
      "light of the leader that runs down the path before a crack" },
    { "strength",       TOPIC_TASTE,  CUE,    FIELD(strength),        1,      0,    1,    "", NULL,
      "scale the light of all strokes" },
    { "branch-share",   TOPIC_TASTE,  CUE,    FIELD(branch_share),    1,      0,    1,    "", NULL,
      "scale the light of branches" },
    { "flood-share",    TOPIC_TASTE,  CUE,    FIELD(flood_share),     1,      0,    1,    "", NULL,
      "scale the light of floods" },
    { "weakest-light",  TOPIC_TASTE,  CUE,    FIELD(weakest_light),   0.35,   0,    1,    "", NULL,
      "light of the weakest crack, strongest = 1" },
    { "far-light",      TOPIC_TASTE,  CUE,    FIELD(far_light),       0.4,    0,    1,    "", NULL,
      "light of the floods for a far crack, near = 1" },
    { "fork-share",     TOPIC_TASTE,  CUE,    FIELD(fork_share),      0.5,    0,    1,    "", NULL,
      "how readily side forks light beside the path" },
    { "fork-light",     TOPIC_TASTE,  CUE,    FIELD(fork_light),      0.6,    0,    1,    "", NULL,
      "light of side forks, path = 1" },
    { "restrike-forks", TOPIC_TASTE,  CUE,    FIELD(restrike_forks),  0.15,   0,    1,    "", NULL,
      "how readily they light again with restrikes, first stroke = 1" },
    { "rumble-light",   TOPIC_TASTE,  CUE,    FIELD(rumble_light),    0.08,   0,    0.5,  "", NULL,
      "light of the floods in the loudest rumble; below 0.09 it leaves cracks their room under the flash limit" },
    { "glimmer",        TOPIC_TASTE,  CUE,    FIELD(glimmer),         0.3,    0,    1,    "", NULL,
      "how readily a rumble shows a glimmer from within the cloud" },
    { "near-sharpness", TOPIC_TASTE,  CUE,    FIELD(near_sharpness),  0.55,   0,    1,    "", NULL,
      "cracks at least this sharp are near: branches and floods in full" },
    { "far-sharpness",  TOPIC_TASTE,  CUE,    FIELD(far_sharpness),   0.2,    0,    1,    "", NULL,
      "cracks at most this sharp are far: floods alone" },
};

enum { COUNT = sizeof table / sizeof *table };

static const char *const topics[TOPIC_COUNT] = {
    [TOPIC_COMMON] = "Common",
    [TOPIC_SAFETY] = "Safety",
    [TOPIC_STROKES] = "Strokes",
    [TOPIC_TASTE] = "To taste",
};

size_t setting_count(void)
{
    return COUNT;
}

const struct setting *setting_at(size_t i)
{
    return &table[i];
}

const struct setting *setting_find(const char *name)
{
    for (size_t i = 0; i < COUNT; i++)
        if (!strcmp(table[i].name, name)) return &table[i];
    return NULL;
}

const char *setting_topic_title(enum setting_topic topic)
{
    return topics[topic];
}

/* ---- One field by its row ---- */

/* Each type of field as a number: whole numbers are exact, a choice is its index, a switch 0 or 1. */
#define FIELD_OF(type, name)                                                                     \
    static double get_##name(const char *at) { type v; memcpy(&v, at, sizeof v); return (double)v; } \
    static void put_##name(char *at, double value) { type v = (type)value; memcpy(at, &v, sizeof v); }
FIELD_OF(double, number)
FIELD_OF(int64_t, whole)
FIELD_OF(int, choice)
FIELD_OF(bool, switch)
#undef FIELD_OF

static const struct {
    size_t width;
    double (*get)(const char *at);
    void (*put)(char *at, double value);
} fields[] = {
    [SETTING_NUMBER] = { sizeof(double),  get_number, put_number },
    [SETTING_WHOLE]  = { sizeof(int64_t), get_whole,  put_whole },
    [SETTING_CHOICE] = { sizeof(int),     get_choice, put_choice },
    [SETTING_SWITCH] = { sizeof(bool),    get_switch, put_switch },
};

double setting_get(const struct setting *row, const struct tc_settings *s)
{
    return fields[row->type].get((const char *)s + row->offset);
}

void setting_put(const struct setting *row, struct tc_settings *s, double value)
{
    fields[row->type].put((char *)s + row->offset, value);
}

/* ---- Programs built with another version of the header ---- */

bool setting_known(const struct setting *row, const struct tc_settings *s)
{
    return row->offset + fields[row->type].width <= s->size;
}

void tc_settings_init(struct tc_settings *s, size_t size)
{
    if (size < sizeof s->size) return;
    memset(s, 0, size);
    s->size = size;
    for (size_t i = 0; i < COUNT; i++)
        if (setting_known(&table[i], s)) setting_put(&table[i], s, table[i].preset);
}

/* What a later version of the header knows besides must be as it was begun. */
static bool rest_is_zero(const struct tc_settings *s)
{
    const char *bytes = (const char *)s;
    for (size_t i = sizeof *s; i < s->size; i++)
        if (bytes[i]) return false;
    return true;
}

enum tc_status settings_check_size(const struct tc_settings *s, struct tc_problem *why)
{
    if (s->size < SETTINGS_LEAST_SIZE || s->size > SETTINGS_MOST_SIZE)
        return problem_set(why, TC_ERR_USAGE, "settings: not begun with tc_settings_default");
    if (!rest_is_zero(s))
        return problem_set(why, TC_ERR_USAGE,
                           "settings: one is set that this version of the library (%s) doesn't know", TC_VERSION);
    return TC_OK;
}

/* ---- Bounds ---- */

static enum tc_status check_fields(const struct tc_settings *s, struct tc_problem *why)
{
    for (size_t i = 0; i < COUNT; i++) {
        double v = setting_get(&table[i], s);
        if (!(v >= table[i].least && v <= table[i].most)) {
            char bounds[128];
            setting_bounds(&table[i], bounds, sizeof bounds);
            return problem_set(why, TC_ERR_USAGE, "%s: %s is not %s", table[i].name, SHOWN(v, 6), bounds);
        }
    }
    if (s->to_s > 0 && s->to_s <= s->from_s)
        return problem_set(why, TC_ERR_USAGE, "to: %s s is not after from: %s s", SHOWN(s->to_s, 6), SHOWN(s->from_s, 6));
    if (s->far_sharpness >= s->near_sharpness)
        return problem_set(why, TC_ERR_USAGE, "far-sharpness: %s is not below near-sharpness: %s",
                           SHOWN(s->far_sharpness, 6), SHOWN(s->near_sharpness, 6));
    return TC_OK;
}

enum tc_status settings_take(struct tc_settings *to, const struct tc_settings *from, struct tc_problem *why)
{
    tc_settings_init(to, sizeof *to);
    if (!from) return TC_OK;
    enum tc_status status = settings_check_size(from, why);
    if (status != TC_OK) return status;
    for (size_t i = 0; i < COUNT; i++)
        if (setting_known(&table[i], from)) setting_put(&table[i], to, setting_get(&table[i], from));
    return check_fields(to, why);
}

enum tc_status tc_settings_check(const struct tc_settings *s, struct tc_problem *why)
{
    struct tc_settings full;
    return settings_take(&full, s, why);
}
