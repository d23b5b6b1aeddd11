/* The one table of settings: name, unit, default, bounds, meaning. Parsing,
 * --help, the man page, the README's block, settings files and the tuning
 * sweep are all made from it. To add a setting: one field in struct
 * tc_settings (thundercue.h) and one row in settings.c; how it is typed and
 * read from files is settings_text.c. */
#ifndef TC_SETTINGS_H
#define TC_SETTINGS_H

#include "thundercue.h"

enum setting_type { SETTING_NUMBER, SETTING_WHOLE, SETTING_CHOICE, SETTING_SWITCH };
enum setting_topic { TOPIC_COMMON, TOPIC_SAFETY, TOPIC_STROKES, TOPIC_TASTE, TOPIC_COUNT };
/* What a setting is for; bits, so that a command that does only a part can say which. */
enum setting_use {
    SETTING_HEARING = 1,   /* which sounds count */
    SETTING_FRAMES = 2,    /* the steps in which loudness and light are told */
    SETTING_CUEING = 4,    /* what light the sounds get */
    SETTING_TIMES = 8,     /* which part of the recording, and when it begins */
    SETTING_WRITING = 16,  /* how the timeline is written */
    SETTING_FLASHES = 32,  /* how flashes are counted */
    SETTING_ALL = 63
};

/* Whole numbers up to here are exact in a double. */
#define SETTING_SEED_MOST 9007199254740991.0

struct setting {
    const char *name;        /* as on the command line, without the dashes */
    enum setting_topic topic;
    enum setting_use use;
    enum setting_type type;  /* of the field in struct tc_settings */
    size_t offset;           /* and where it lies */
    double preset, least, most;
    const char *unit;        /* "" if it has none; for a choice "percent|8bit" */
    const char *zero;        /* a word that stands for 0, e.g. "off", or words for 0, 1, ... "rig|all"; or NULL */
    const char *help;
};

size_t setting_count(void);
const struct setting *setting_at(size_t i);
const struct setting *setting_find(const char *name); /* NULL if there is none */

/* A field by its row, whatever its type: a choice is the index of its word, a
 * switch 0 or 1. Only where the struct has that field. */
double setting_get(const struct setting *row, const struct tc_settings *s);
void setting_put(const struct setting *row, struct tc_settings *s, double value);
/* False where the program was built with an earlier header that had no such field. */
bool setting_known(const struct setting *row, const struct tc_settings *s);

/* The value as text, as it would be typed. `size` of 32 is enough. */
const char *setting_value(const struct setting *row, const struct tc_settings *s, char *to,
                          size_t size);

/* Takes over settings that a stranger passed in: checked, and with the defaults
 * of this version for fields that the stranger's header didn't have. NULL
 * stands for the defaults. TC_ERR_USAGE with *why. */
enum tc_status settings_take(struct tc_settings *to, const struct tc_settings *from,
                             struct tc_problem *why);

/* TC_ERR_USAGE unless they were begun with tc_settings_default and nothing is
 * set that this version does not know. */
enum tc_status settings_check_size(const struct tc_settings *s, struct tc_problem *why);

/* "0 to 100", "on or off", "percent|8bit": what values there are. `size` of 128 is enough. */
void setting_bounds(const struct setting *row, char *to, size_t size);

const char *setting_topic_title(enum setting_topic topic);

#endif
