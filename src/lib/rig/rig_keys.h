/* What a rig file may say: the sections and their keys, each with its type, its
 * bounds and where its value goes. Reading, "did you mean" and what must be
 * there all come from these tables. To add a key: a field in struct tc_channel
 * (or its like) and a row in rig_keys.c. To add a section: a value in enum
 * section_type, a member in the union of struct section, a row in the table of
 * sections, and its place in rig.c. */
#ifndef TC_RIG_KEYS_H
#define TC_RIG_KEYS_H

#include "words/model.h"

enum section_type { IN_NONE, IN_RIG, IN_CIRCUIT, IN_CHANNEL, IN_DEFAULTS, IN_BANK, IN_OVERHEAD, IN_NETWORK,
                    SECTION_TYPES };

enum { KEYS_MOST = 32 };

/* A channel as it is read: what refers to others is still by its name. */
struct channel_draft {
    struct tc_channel is;
    int parent;
    char circuit[TC_NAME_SIZE], group[TC_NAME_SIZE];
};

/* A section of a file, with the lines of its keys (0 = not there). */
struct section {
    enum section_type type;
    char name[TC_NAME_SIZE];  /* after the word; "" if it takes none */
    int line;
    bool wrong;               /* what is missing in it is not told as well then */
    int key_line[KEYS_MOST];
    /* where its values go; the type says which one is meant */
    union {
        struct tc_rig rig;
        struct tc_circuit circuit;
        struct channel_draft channel; /* of [defaults], too */
        struct tc_bank bank;
        struct tc_overhead overhead;
        struct tc_network network;
    } is;
};

enum key_type {
    KEY_TEXT,    /* char[TC_NAME_SIZE] */
    KEY_NUMBER,  /* double */
    KEY_WHOLE,   /* int */
    KEY_PARENT,  /* int; empty = 0, a root */
    KEY_CHOICE,  /* int: which of the words */
    KEY_SHARE,   /* double: one of the words, or a number */
};

/* A word for a value. */
struct word {
    const char *name;
    double value;
};

struct key {
    const char *name;
    enum key_type type;
    size_t offset;            /* keys of one section with the same offset are one quantity in several units */
    double least, most;       /* bounds, in the key's own unit */
    double factor;            /* from the key's unit to the model's */
    const struct word *words; /* ended by one without a name */
    const char *example;      /* not NULL: the key must be there, and this is one */
};

struct section_row {
    const char *word;
    const char *form;         /* of its heading */
    bool named;
    const struct key *keys;
    size_t key_count;
    const char *except;       /* keys that belong to one channel alone, each between spaces */
};

const struct section_row *section_row(enum section_type type);

/* IN_NONE if there is no such section. */
enum section_type section_find(const char *word);

/* NULL if the section has no such key. */
const struct key *key_find(const struct section_row *row, const char *name);

/* What a rig file calls it. */
const char *rig_kind_word(enum tc_channel_kind kind);
const char *rig_curve_word(enum tc_curve curve);
const char *rig_lamp_word(enum tc_lamp lamp);

/* Bytes of a value of this type. */
size_t key_size(enum key_type type);

#endif
