/* A rig file taken apart into its sections: the inner part of `rig`, between
 * the text and the rig. Every value is within its bounds when it arrives here,
 * and [defaults] have gone to the channels; what refers to other sections
 * (parents, circuits, groups) is still as it was written, with the lines of all
 * keys, so that later errors can name theirs. */
#ifndef TC_RIG_TEXT_H
#define TC_RIG_TEXT_H

#include "rig/rig_keys.h"
#include "words/ini_text.h"

enum { SECTIONS_MOST = 4 * TC_MAX_CHANNELS };

/* A file while it is read. */
struct rig_file {
    struct ini lines;
    char shown[256];          /* the file's name, for messages */
    struct section *sections;
    size_t section_count, section_room;
    enum tc_status status;    /* TC_OK until the first error */
    struct tc_problem *why;
};

/* What a channel is if its section does not say otherwise. */
struct tc_channel rig_file_channel(void);
/* And the light network. */
struct tc_network rig_file_network(void);

/* Reads all sections of a text. Set `shown` and `why` before. False with
 * f->status and the problem set. The caller frees f->sections in any case. */
bool rig_file_read(struct rig_file *f, const char *text, size_t size);

/* "mill.rig:12: ..." (line 0 = none), unless there was an error before. Always false. */
bool rig_file_wrong(struct rig_file *f, int line, const char *format, ...)
    __attribute__((format(printf, 3, 4)));
/* The same for memory. */
bool rig_file_memory(struct rig_file *f);

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
