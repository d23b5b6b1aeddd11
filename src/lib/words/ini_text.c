#include "words/ini_text.h"

#include <stdarg.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#include "words/text.h"

void ini_begin(struct ini *i, const char *text, size_t size)
{
    *i = (struct ini){ .at = text, .end = text + size, .word = "", .name = "", .key = "", .value = "" };
    if (size >= 3 && !memcmp(text, "\xEF\xBB\xBF", 3)) i->at += 3;
}

static enum ini_line wrong(struct ini *i, const char *format, ...) __attribute__((format(printf, 2, 3)));
static enum ini_line wrong(struct ini *i, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    vsnprintf(i->wrong, sizeof i->wrong, format, args);
    va_end(args);
    return INI_WRONG;
}

/* What is no plain text is not read any further. */
static enum ini_line no_text(struct ini *i, const char *sentence)
{
    i->at = i->end;
    return wrong(i, "%s", sentence);
}

static bool blank(char c)
{
    return c == ' ' || c == '\t' || c == '\v' || c == '\f';
}

/* Takes the space off both ends of `text`, whose end is at `end`. */
static char *trimmed(char *text, char *end)
{
    while (end > text && blank(end[-1])) end--;
    *end = 0;
    while (blank(*text)) text++;
    return text;
}

/* [word name] ; comment */
static enum ini_line take_heading(struct ini *i, char *text)
{
    char plain[64];
    char *end = strchr(text, ']');
    if (!end) return wrong(i, "'%s' lacks its closing ]", text_plain(plain, sizeof plain, text));
    char *rest = end + 1;
    while (blank(*rest)) rest++;
    if (*rest && *rest != ';' && *rest != '#')
        return wrong(i, "'%s' stands after the heading: a ] ends it, and names can't contain one",
                     text_plain(plain, sizeof plain, rest));
    char *word = trimmed(text + 1, end), *name = word;
    while (*name && !blank(*name)) name++;
    if (*name) *name++ = 0;
    i->word = word;
    i->name = trimmed(name, name + strlen(name));
    return INI_HEADING;
}

static enum ini_line take_pair(struct ini *i, char *text)
{
    char plain[64];
    char *sign = text + strcspn(text, "=:");
    if (!*sign || sign == text)
        return wrong(i, "'%s' is neither a [section] nor of the form key = value",
                     text_plain(plain, sizeof plain, text));
    char *value = sign + 1, *end = value;
    while (*end && !(*end == ';' && blank(end[-1]))) end++;
    i->key = trimmed(text, sign);
    i->value = trimmed(value, end);
    return INI_VALUE;
}

static enum ini_line take_line(struct ini *i, const char *line, size_t size)
{
    *i->text = 0;
    while (size && blank(*line)) line++, size--;
    while (size && blank(line[size - 1])) size--;
    if (memchr(line, 0, size)) return no_text(i, "a zero byte: this is not plain text; save the file in UTF-8");
    if (!size || *line == ';' || *line == '#') return INI_END;
    if (size > INI_LINE_MOST)
        return wrong(i, "this line is longer than %d bytes, the most that a line may have", INI_LINE_MOST);
    memcpy(i->text, line, size);
    i->text[size] = 0;
    if (!text_utf8(i->text)) return no_text(i, "this line is not UTF-8: save the file in UTF-8");
    return *i->text == '[' ? take_heading(i, i->text) : take_pair(i, i->text);
}

enum ini_line ini_next(struct ini *i)
{
    while (i->at < i->end) {
        const char *line = i->at, *stop = line;
        while (stop < i->end && *stop != '\n' && *stop != '\r') stop++;
        i->at = stop < i->end ? stop + 1 : stop;
        if (i->at < i->end && *stop == '\r' && *i->at == '\n') i->at++;
        i->line++;
        enum ini_line what = take_line(i, line, (size_t)(stop - line));
        if (what != INI_END) return what;
    }
    return INI_END;
}
