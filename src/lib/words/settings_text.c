/* Settings as text: one value as it is typed, and files of `name = value` lines. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "words/ini_text.h"
#include "words/numbers.h"
#include "words/settings.h"
#include "words/sink.h"
#include "words/status.h"
#include "words/text.h"

/* ---- One value ---- */

/* The number of a word in "percent|8bit", -1 if it is not there. */
static int choice_index(const char *words, const char *word)
{
    size_t length = strlen(word);
    for (int n = 0; words; n++) {
        const char *bar = strchr(words, '|');
        size_t this = bar ? (size_t)(bar - words) : strlen(words);
        if (this == length && !strncmp(words, word, length)) return n;
        words = bar ? bar + 1 : NULL;
    }
    return -1;
}

/* How many numbers from 0 up have a word ("off", or "rig|all"). */
static int word_count(const struct setting *row)
{
    int n = row->zero != NULL;
    for (const char *c = row->zero; c && *c; c++) n += *c == '|';
    return n;
}

/* The nth word of "percent|8bit". */
static void choice_word(const char *words, int n, char *to, size_t size)
{
    for (; n > 0 && strchr(words, '|'); n--) words = strchr(words, '|') + 1;
    snprintf(to, size, "%.*s", (int)strcspn(words, "|"), words);
}

void setting_bounds(const struct setting *row, char *to, size_t size)
{
    const char *gap = *row->unit ? " " : "";
    const char *least = SHOWN(row->least, 10), *most = SHOWN(row->most, 10);
    if (row->type == SETTING_CHOICE) snprintf(to, size, "%s", row->unit);
    else if (row->type == SETTING_SWITCH) snprintf(to, size, "on or off");
    else if (word_count(row) > 1)
        snprintf(to, size, "%s, or %d to %s%s%s", row->zero, word_count(row), most, gap, row->unit);
    else if (row->zero && strcmp(row->zero, "off"))
        snprintf(to, size, "above 0 up to %s%s%s, or %s", most, gap, row->unit, row->zero);
    else if (row->zero)
        snprintf(to, size, "%s to %s%s%s, or %s",
                 row->type == SETTING_WHOLE && row->least < 1 ? "a whole number, 1" : least, most, gap,
                 row->unit, row->zero);
    else if (row->most == SETTING_SEED_MOST) snprintf(to, size, "a whole number from 0 to %.0f", row->most);
    else snprintf(to, size, "%s%s to %s%s%s", row->type == SETTING_WHOLE ? "a whole number, " : "", least, most, gap,
                  row->unit);
}

const char *setting_value(const struct setting *row, const struct tc_settings *s, char *to,
                          size_t size)
{
    double v = setting_get(row, s);
    if (v >= 0 && v < word_count(row) && v == floor(v)) {
        choice_word(row->zero, (int)v, to, size);
    } else if (row->type == SETTING_SWITCH) {
        snprintf(to, size, "%s", v != 0 ? "on" : "off");
    } else if (row->type == SETTING_CHOICE) {
        choice_word(row->unit, (int)v, to, size);
    } else {
        number_show(to, size, v, 16);
    }
    return to;
}

static bool parse(const struct setting *row, const char *text, double *value)
{
    int64_t whole;
    switch (row->type) {
    case SETTING_CHOICE:
        *value = choice_index(row->unit, text);
        return *value >= 0;
    case SETTING_SWITCH:
        *value = !strcmp(text, "on");
        return *value != 0 || !strcmp(text, "off");
    case SETTING_WHOLE:
        if (row->zero && choice_index(row->zero, text) >= 0) return *value = choice_index(row->zero, text), true;
        if (!number_read_whole(text, &whole) || whole < (int64_t)row->least || whole > (int64_t)row->most)
            return false;
        if (whole < word_count(row)) return false; /* nobody switches a limit off by a number */
        *value = (double)whole;
        return true;
    case SETTING_NUMBER:
        if (row->zero && !strcmp(text, row->zero)) return *value = 0, true;
        if (!number_read(text, value)) return false;
        if (row->zero && strcmp(row->zero, "off") && *value <= 0) return false; /* 0 is no end */
        return *value >= row->least && *value <= row->most;
    }
    return false;
}

/* The setting that was probably meant; NULL if none comes near. */
static const char *nearest(const char *name)
{
    const char *best = NULL;
    size_t least = 2 + strlen(name) / 3;
    for (size_t i = 0; i < setting_count(); i++) {
        size_t d = text_distance(name, setting_at(i)->name);
        if (d < least) least = d, best = setting_at(i)->name;
    }
    return best;
}

enum tc_status tc_settings_set(struct tc_settings *s, const char *name, const char *value,
                               struct tc_problem *why)
{
    const struct setting *row = setting_find(name);
    char plain[128];
    if (!row) {
        const char *near = nearest(name);
        return problem_set(why, TC_ERR_USAGE,
                           near ? "%s: there is no such setting; did you mean %s?" : "%s: there is no such setting",
                           text_plain(plain, sizeof plain, name), near);
    }
    if (settings_check_size(s, why) != TC_OK) return TC_ERR_USAGE;
    if (!setting_known(row, s))
        return problem_set(why, TC_ERR_USAGE, "%s: this program was built for a version of thundercue without it",
                           row->name);
    double number;
    if (!parse(row, value, &number)) {
        char bounds[128];
        setting_bounds(row, bounds, sizeof bounds);
        bool out_of_bounds = row->type == SETTING_NUMBER && number_read(value, &number);
        return problem_set(why, TC_ERR_USAGE,
                           out_of_bounds ? "%s: '%s' is out of bounds: %s%s" : "%s: '%s' is not %s%s",
                           name, text_plain(plain, sizeof plain, value),
                           row->type == SETTING_NUMBER && !out_of_bounds ? "a number, " : "", bounds);
    }
    setting_put(row, s, number);
    return TC_OK;
}

/* ---- Settings files ---- */

/* "sensitivity 5" lacks its equals sign. */
static bool say_missing_sign(struct tc_problem *what, const char *text)
{
    char name[32], plain[64];
    size_t length = strcspn(text, " \t");
    if (length >= sizeof name) return false;
    snprintf(name, sizeof name, "%.*s", (int)length, text);
    const char *value = text + length + strspn(text + length, " \t");
    if (!*value || !setting_find(name)) return false;
    problem_set(what, TC_ERR_FORM, "write: %s = %s", name, text_plain(plain, sizeof plain, value));
    return true;
}

enum tc_status tc_settings_read(const char *text, size_t size, const char *shown, struct tc_settings *s,
                                struct tc_problem *why)
{
    char plain[256], word[64];
    text_plain(plain, sizeof plain, shown);
    struct ini i;
    ini_begin(&i, text, size);
    for (enum ini_line line; (line = ini_next(&i)) != INI_END;) {
        struct tc_problem what = { "" };
        if (line == INI_WRONG && !say_missing_sign(&what, i.text))
            problem_set(&what, TC_ERR_FORM, "%s", i.wrong);
        else if (line == INI_WRONG)
            ;
        else if (line == INI_HEADING)
            problem_set(&what, TC_ERR_FORM, "a settings file has no sections like [%s]",
                        text_plain(word, sizeof word, i.word));
        else if (tc_settings_set(s, i.key, i.value, &what) == TC_OK)
            continue;
        return problem_set(why, TC_ERR_FORM, "%s:%d: %.700s", plain, i.line, what.text);
    }
    return TC_OK;
}

enum tc_status tc_settings_write(const struct tc_settings *s, bool all, struct tc_sink to, struct tc_problem *why)
{
    struct tc_settings full;
    struct writer w;
    char value[32];
    enum tc_status status = settings_take(&full, s, why);
    if (status != TC_OK) return status;
    writer_begin(&w, to);
    for (size_t i = 0; i < setting_count(); i++) {
        const struct setting *row = setting_at(i);
        if (all || fabs(setting_get(row, &full) - row->preset) > 0)
            writer_format(&w, "%s = %s\n", row->name, setting_value(row, &full, value, sizeof value));
    }
    status = writer_end(&w);
    return status == TC_OK ? TC_OK : problem_say(why, status);
}
