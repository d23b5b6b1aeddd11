/* JSON as the page carries it (RFC 8259), on its way to a sink: compact, with
 * few digits, the same bytes everywhere. Text from outside can't end the
 * element that it stands in: '<' is escaped, and broken UTF-8 is shown as '?'. */
#ifndef TC_JSON_H
#define TC_JSON_H

#include <stdbool.h>
#include <stdint.h>

#include "words/sink.h"

struct json {
    struct writer to;
    bool follows;      /* something stands before in the same list or object */
};

/* `key` is NULL within lists and at the top. `open` is '{' or '['. */
void json_open(struct json *j, const char *key, char open);
void json_close(struct json *j, char close);

void json_whole(struct json *j, const char *key, int64_t value);
/* Rounded to so many decimals; null if it is no number. */
void json_number(struct json *j, const char *key, double value, int decimals);
void json_flag(struct json *j, const char *key, bool value);
void json_text(struct json *j, const char *key, const char *value);
/* Bytes as text (base64, RFC 4648). */
void json_bytes(struct json *j, const char *key, const void *bytes, size_t size);

/* Three bytes to four characters; `count` 1..3, the rest padded. */
void base64_group(char to[4], const unsigned char *from, size_t count);

#endif
