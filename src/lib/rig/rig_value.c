#include "rig/rig_value.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "words/numbers.h"
#include "words/text.h"

static void list_words(char *to, size_t size, const struct word *words)
{
    size_t used = 0;
    *to = 0;
    for (const struct word *w = words; w->name && used < size; w++) {
        const char *join = w == words ? "" : w[1].name ? ", " : " or ";
        used += (size_t)snprintf(to + used, size - used, "%s%s", join, w->name);
    }
}

static bool wrong(struct rig_value *v, const char *format, ...) __attribute__((format(printf, 2, 3)));
static bool wrong(struct rig_value *v, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    vsnprintf(v->wrong, sizeof v->wrong, format, args);
    va_end(args);
    return false;
}

/* As it may be shown. */
#define PLAIN(v) text_plain((char[64]){ "" }, 64, (v)->text)

static bool take_text(struct rig_value *v, char *to)
{
    const char *name = v->key->name;
    if (strlen(v->text) >= TC_NAME_SIZE)
        return wrong(v, "%s: %s has %zu bytes: up to %d fit", v->where, name, strlen(v->text), TC_NAME_SIZE - 1);
    if (!*v->text && !strcmp(name, "name"))
        return wrong(v, "%s: name is empty: give one, or leave the line out", v->where);
    snprintf(to, TC_NAME_SIZE, "%s", v->text);
    return true;
}

/* What was probably meant by a value that is none: ": write 5.5"; "" if nobody knows. */
static const char *hint(char *to, size_t size, const char *value)
{
    char number[32];
    double ignored;
    size_t length = strlen(value), digits = strspn(value, "+-.0123456789");
    *to = 0;
    if (strstr(value, " #") || strstr(value, "\t#")) {
        snprintf(to, size, ": a comment after a value begins with ;");
    } else if (digits && digits < sizeof number) {
        const char *rest = value + digits + strspn(value + digits, " ");
        snprintf(number, sizeof number, "%.*s", (int)digits, value);
        bool unit = *rest && !rest[strcspn(rest, "0123456789;:,#")];
        if (unit && number_read(number, &ignored)) snprintf(to, size, ": write %s, without a unit", number);
        if (*rest == ',' && length < sizeof number) {
            snprintf(number, sizeof number, "%s", value);
            number[digits] = '.';
            if (number_read(number, &ignored)) snprintf(to, size, ": write %s", number);
        }
    }
    return to;
}

static bool take_number(struct rig_value *v, double *to)
{
    const struct key *key = v->key;
    double number;
    if (!number_read(v->text, &number)) {
        char words[160], right[80];
        hint(right, sizeof right, v->text);
        if (!key->words) return wrong(v, "%s: %s '%s' is not a number%s", v->where, key->name, PLAIN(v), right);
        list_words(words, sizeof words, key->words);
        return wrong(v, "%s: %s '%s' is neither a number nor %s%s", v->where, key->name, PLAIN(v), words, right);
    }
    if (number < key->least)
        return wrong(v, "%s: %s %s is below %s", v->where, key->name, PLAIN(v), SHOWN(key->least, 10));
    if (number > key->most)
        return wrong(v, "%s: %s %s is above %s", v->where, key->name, PLAIN(v), SHOWN(key->most, 10));
    *to = number * key->factor;
    return true;
}

static const struct word *word_find(const struct word *words, const char *value)
{
    for (const struct word *w = words; w->name; w++)
        if (text_same(w->name, value)) return w;
    return NULL;
}

static bool take_whole(struct rig_value *v, void *to)
{
    double number;
    int64_t whole;
    if (!take_number(v, &number)) return false;
    if (!number_read_whole(v->text, &whole))
        return wrong(v, "%s: %s '%s' is not a whole number", v->where, v->key->name, PLAIN(v));
    memcpy(to, &(int){ (int)whole }, sizeof(int));
    return true;
}

static bool take_choice(struct rig_value *v, void *to)
{
    const struct word *word = word_find(v->key->words, v->text);
    if (!word) {
        char words[160], right[80];
        list_words(words, sizeof words, v->key->words);
        hint(right, sizeof right, v->text);
        return wrong(v, "%s: %s '%s' is not %s%s", v->where, v->key->name, PLAIN(v), words, right);
    }
    memcpy(to, &(int){ (int)word->value }, sizeof(int));
    return true;
}

bool rig_value_take(struct rig_value *v, char *target)
{
    void *to = target + v->key->offset;
    const struct word *word;
    switch (v->key->type) {
    case KEY_TEXT:   return take_text(v, to);
    case KEY_NUMBER: return take_number(v, to);
    case KEY_WHOLE:  return take_whole(v, to);
    case KEY_PARENT: return !*v->text || take_whole(v, to);
    case KEY_CHOICE: return take_choice(v, to);
    case KEY_SHARE:
        word = word_find(v->key->words, v->text);
        if (!word) return take_number(v, to);
        *(double *)to = word->value;
        return true;
    }
    return false;
}
