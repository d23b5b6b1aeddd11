/* The text of a rig file by its lines, so that single values can be changed in
 * it and everything else stays. All positions are in the text, which is
 * borrowed. */
#ifndef TC_RIG_LINES_H
#define TC_RIG_LINES_H

#include <stdbool.h>

#include "rig/rig_keys.h"
#include "thundercue.h"

struct stretch {
    const char *at;              /* NULL: there is none */
    size_t size;
};

struct rig_line {
    struct stretch all;             /* with its end */
    size_t end_size;             /* bytes of that end: 0 (the last line), 1 or 2 */
    const struct key *key;       /* NULL: a heading, a comment, or blank */
    struct stretch value;           /* of a key; of a heading its name */
    bool blank;
};

/* A section: from its heading to the last line that has a key. */
struct rig_part {
    enum section_type type;
    struct stretch name;
    int number;                  /* of a channel */
    size_t heading, last;        /* lines */
};

struct rig_lines {
    struct rig_line *lines;
    size_t line_count, line_room;
    struct rig_part *parts;
    size_t part_count, part_room;
};

/* Takes apart a text that is a rig file. TC_ERR_MEMORY; TC_ERR_RIG if a line is
 * none of a rig file. Free with rig_lines_clear in any case. */
enum tc_status rig_lines_read(struct rig_lines *out, const char *text, size_t size);
void rig_lines_clear(struct rig_lines *l);

/* The section of the same kind and name as `like`; NULL if there is none. */
const struct rig_part *rig_lines_part(const struct rig_lines *l, const struct rig_part *like);
/* The only one of its kind, or the first. */
const struct rig_part *rig_lines_first(const struct rig_lines *l, enum section_type type);
/* What a section says of a key; of no section, nothing. */
struct stretch rig_lines_value(const struct rig_lines *l, const struct rig_part *part, const struct key *key);

bool stretch_same(struct stretch a, struct stretch b);

#endif
