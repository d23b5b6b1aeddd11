/* A rig file taken apart into its sections: the inner part of `rig`, between
 * the bytes and the rig. Every value is within its bounds when it arrives here;
 * what refers to other sections (parents, circuits, groups) is still as it was
 * written, with the lines of all keys, so that later errors can name theirs.
 *
 * The file is an INI file, taken apart by inih. inih's limits would pass
 * unnoticed otherwise, so its lines come through a reader of our own that
 * guards them: lines longer than its buffer, which inih would split in two;
 * indented lines, which it would take for a second value of the key above;
 * headings longer than 50 bytes or with text behind them; headings without
 * keys, of which it would say nothing. inih's settings (variables of the
 * process) are left as they are. */
#ifndef TC_RIG_FILE_H
#define TC_RIG_FILE_H

#include <stdio.h>

#include "words/model.h"

enum section_type { IN_NONE, IN_RIG, IN_CIRCUIT, IN_CHANNEL, IN_BANK, IN_OVERHEAD, SECTION_TYPES };

enum { KEYS_MOST = 20, LINE_MOST = 1000, SECTIONS_MOST = 4 * TC_MAX_CHANNELS };

/* A channel as it is read. */
struct channel_draft {
    struct tc_channel is;
    int parent;
    char circuit[TC_NAME_SIZE], group[TC_NAME_SIZE];
};

/* A section of the file, with the lines of its keys (0 = not there). */
struct section {
    enum section_type type;
    char name[TC_NAME_SIZE];  /* behind the word; "" if it takes none */
    int line;
    int key_line[KEYS_MOST];
    /* where its values go; which one is meant says the type */
    union {
        struct tc_rig rig;
        struct tc_circuit circuit;
        struct channel_draft channel;
        struct tc_bank bank;
        struct tc_overhead overhead;
    } is;
};

/* A file while it is read. */
struct rig_file {
    FILE *in;
    char shown[256];          /* the file's name, for messages */
    int line;
    char text[LINE_MOST + 1]; /* the line as it is in the file, without what surrounds it */
    bool cut;                 /* it is too long for inih: take the value from `text` */
    struct section *sections;
    size_t section_count, section_room;
    enum tc_status status;    /* TC_OK until the first error */
    struct tc_problem *why;
};

/* What a channel is if its section does not say otherwise. */
struct tc_channel rig_file_channel(void);

/* Reads all sections of f->in. Set `in`, `shown` and `why` before. False with
 * f->status and the problem set. The caller frees f->sections in any case. */
bool rig_file_read(struct rig_file *f);

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
