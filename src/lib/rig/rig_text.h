/* A rig file taken apart into its sections: the inner part of `rig`, between
 * the text and the rig. Every value is within its bounds when it arrives here,
 * and [defaults] have gone to the channels; what refers to other sections
 * (parents, circuits, groups) is still as it was written, with the lines of all
 * keys, so that later errors can name theirs. */
#ifndef TC_RIG_TEXT_H
#define TC_RIG_TEXT_H

#include "rig/rig_keys.h"
#include "words/ini_text.h"

enum { SECTIONS_MOST = 4 * TC_MAX_CHANNELS, RIG_PROBLEMS_MOST = 10 };

/* What is wrong with a file: as much as fits, of all. */
struct rig_problems {
    struct { int line; struct tc_problem is; } at[RIG_PROBLEMS_MOST]; /* by line */
    size_t count;             /* may be more than there is room for */
};

/* A file while it is read. */
struct rig_file {
    struct ini lines;
    char shown[256];          /* the file's name, for messages */
    struct section *sections;
    size_t section_count, section_room;
    enum tc_status status;    /* TC_OK until the first error */
    struct rig_problems found;
    bool passing;             /* over a section whose heading is wrong */
    bool incomplete;          /* a section was passed over */
};

/* What a channel is if its section does not say otherwise. */
struct tc_channel rig_file_channel(void);
/* And the light network. */
struct tc_network rig_file_network(void);

/* Reads all sections of a text. Set `shown` before. False with f->status set and
 * all that is wrong found. The caller frees f->sections in any case. */
bool rig_file_read(struct rig_file *f, const char *text, size_t size);

/* Takes note of "mill.rig:12: ..." (line 0 = none). Always false. */
bool rig_file_wrong(struct rig_file *f, int line, const char *format, ...)
    __attribute__((format(printf, 3, 4)));
/* The same for memory. */
bool rig_file_memory(struct rig_file *f);

/* tc_rig_read that tells all that is wrong; *why is the first of it by line. */
enum tc_status rig_read(const char *text, size_t size, const char *shown, struct tc_rig *out, struct rig_problems *all,
                        struct tc_problem *why);

/* The line of a key, 0 if it is not there. */
int section_key_line(const struct section *s, const char *key);
/* The line of a key, or that of the heading. */
int section_line_near(const struct section *s, const char *key);

/* Where a message about a value begins, and the value as it may be shown. */
struct telling {
    char where[80], value[64];
};

struct telling section_tell(const struct section *s, const char *value);

#endif
