#include "rig/rig_edit.h"

#include <stdio.h>
#include <string.h>

#include "words/numbers.h"


static bool is_blank(char c)
{
    return c == ' ' || c == '\t';
}

/* Past a byte order mark and white space. */
static const char *skip(const char *at, const char *end)
{
    if (end - at >= 3 && !memcmp(at, "\xEF\xBB\xBF", 3)) at += 3;
    while (at < end && is_blank(*at)) at++;
    return at;
}

static bool takes(const char **at, const char *end, const char *word)
{
    size_t n = strlen(word);
    if ((size_t)(end - *at) < n || memcmp(*at, word, n)) return false;
    *at = skip(*at + n, end);
    return true;
}

/* "[channel 4]", also "[ channel  04 ] ; comment". */
static bool is_heading_of(const char *at, const char *end, int number)
{
    long said = 0;
    at = skip(at, end);
    if (!takes(&at, end, "[") || !takes(&at, end, "channel")) return false;
    const char *digits = at;
    for (; at < end && *at >= '0' && *at <= '9' && said < 100000; at++) said = 10 * said + *at - '0';
    at = at > digits ? skip(at, end) : end;
    return at < end && *at == ']' && said == number;
}

/* Where the value of "min_level = 12  ; comment" lies; false if it is another line. */
static bool find_value(const char *at, const char *end, const char **from, const char **to)
{
    at = skip(at, end);
    if (!takes(&at, end, "min_level") || at == end || (*at != '=' && *at != ':')) return false;
    *from = *to = skip(at + 1, end);
    while (*to < end && !is_blank(**to) && **to != '\r' && **to != '\n') ++*to;
    return true;
}

static enum tc_status put(const struct tc_sink *to, const char *from, const char *end)
{
    return end > from ? to->write(to->to, from, (size_t)(end - from)) : TC_OK;
}

enum tc_status rig_edit_min_level(const char *text, size_t size, int number, double percent,
                                  const struct tc_sink *to)
{
    const char *end = text + size, *heading_end = NULL, *from = NULL, *until = NULL;
    bool inside = false;
    for (const char *line = text, *next; line < end && !from; line = next) {
        size_t n = 0;
        while (line + n < end && line[n] != '\n' && line[n] != '\r') n++;
        next = line + n;
        if (next < end && *next == '\r') next++;
        if (next < end && *next == '\n') next++;
        const char *first = skip(line, line + n), *value, *value_end;
        if (first < line + n && *first == '[') {
            inside = is_heading_of(line, line + n, number);
            if (inside) heading_end = next;
        } else if (inside && find_value(line, line + n, &value, &value_end)) {
            from = value;
            until = value_end;
        }
    }
    if (!heading_end) return TC_ERR_RIG;
    char said[40], line[64];
    number_show(said, sizeof said, percent, 10);
    if (!from) { /* with the line end that the heading has */
        size_t ends = 0;
        while (ends < 2 && heading_end - ends > text
               && (heading_end[-1 - (long)ends] == '\n' || heading_end[-1 - (long)ends] == '\r')) ends++;
        snprintf(line, sizeof line, "%smin_level = %s%.*s", ends ? "" : "\n", said, ends ? (int)ends : 1,
                 ends ? heading_end - ends : "\n");
        from = until = heading_end;
    }
    enum tc_status status = put(to, text, from);
    const char *new = from == heading_end ? line : said;
    if (status == TC_OK) status = put(to, new, new + strlen(new));
    return status == TC_OK ? put(to, until, end) : status;
}
