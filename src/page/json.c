#include "page/json.h"

#include <math.h>
#include <string.h>

#include "words/numbers.h"
#include "words/text.h"

static void quoted(struct json *j, const char *text);

static void begin(struct json *j, const char *key)
{
    if (j->follows) writer_text(&j->to, ",");
    j->follows = true;
    if (!key) return;
    quoted(j, key);
    writer_text(&j->to, ":");
}

static void put(struct json *j, char c)
{
    writer_bytes(&j->to, &c, 1);
}

void json_open(struct json *j, const char *key, char open)
{
    begin(j, key);
    put(j, open);
    j->follows = false;
}

void json_close(struct json *j, char close)
{
    put(j, close);
    j->follows = true;
}

void json_whole(struct json *j, const char *key, int64_t value)
{
    begin(j, key);
    writer_fixed(&j->to, value, 0);
}

void json_number(struct json *j, const char *key, double value, int decimals)
{
    char text[NUMBER_ROOM + 1];
    begin(j, key);
    if (!isfinite(value) || fabs(value) > 1e12) {
        writer_text(&j->to, "null");
        return;
    }
    char *end = number_fixed(text, (int64_t)floor(value * pow(10, decimals) + 0.5), decimals);
    if (decimals) {
        while (end[-1] == '0') end--;
        if (end[-1] == '.') end--;
    }
    writer_bytes(&j->to, text, (size_t)(end - text));
}

void json_flag(struct json *j, const char *key, bool value)
{
    begin(j, key);
    writer_text(&j->to, value ? "true" : "false");
}

/* Letters as they are; what JSON or the page around it would take for something else as \u00XX. */
static void quoted(struct json *j, const char *text)
{
    put(j, '"');
    while (*text) {
        size_t plain = 0;
        while ((unsigned char)text[plain] >= 0x20 && text[plain] != 0x7f && !strchr("\"\\<", text[plain])) plain++;
        writer_bytes(&j->to, text, plain);
        text += plain;
        if (*text) writer_format(&j->to, "\\u%04x", (unsigned)(unsigned char)*text++);
    }
    put(j, '"');
}

void json_text(struct json *j, const char *key, const char *value)
{
    char plain[1200];
    begin(j, key);
    quoted(j, text_utf8(value) ? value : text_plain(plain, sizeof plain, value));
}

static const char digits[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";

void base64_group(char to[4], const unsigned char *from, size_t count)
{
    uint32_t bits = (uint32_t)from[0] << 16;
    if (count > 1) bits |= (uint32_t)from[1] << 8;
    if (count > 2) bits |= from[2];
    for (int i = 0; i < 4; i++) to[i] = digits[bits >> (18 - 6 * i) & 63];
    if (count < 3) to[3] = '=';
    if (count < 2) to[2] = '=';
}

void json_bytes(struct json *j, const char *key, const void *bytes, size_t size)
{
    const unsigned char *from = bytes;
    begin(j, key);
    put(j, '"');
    for (size_t i = 0; i < size; i += 3) {
        char *to = writer_room(&j->to, 4);
        base64_group(to, from + i, size - i < 3 ? size - i : 3);
        writer_take(&j->to, to + 4);
    }
    put(j, '"');
}
