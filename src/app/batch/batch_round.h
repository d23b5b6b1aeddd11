/* What a batch knows of its clips, for the files that tell its story: batch.c,
 * batch_scan.c, batch_summary.c, batch_decide.c and batch_apart.c. */
#ifndef TC_BATCH_ROUND_H
#define TC_BATCH_ROUND_H

#include <stdatomic.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "words/model.h"

struct batch;

enum clip_state {
    CLIP_UNFINISHED, CLIP_DONE, CLIP_FINDINGS, CLIP_FAILED, CLIP_REFUSED, CLIP_SKIPPED, CLIP_PASSED_OVER, CLIP_STATES
};

/* The numbers of a row; each is kept as a whole number of its last decimal. */
enum { FIGURE_LENGTH, FIGURE_CRACKS, FIGURE_RUMBLES, FIGURE_STROKES, FIGURE_PEAK_FLASHES, FIGURE_PEAK_LOAD, FIGURES };

/* What shapes the outputs of a clip. */
enum { PART_SOUND, PART_EVENTS, PART_SETTINGS, PART_RIG, PART_VERSION, PARTS };

/* What a worker finds out; the caller takes it over when the clip is done. */
struct result {
    enum clip_state state;
    enum tc_status status;
    char *message;
    int64_t figures[FIGURES];
};

struct clip {
    char *file;              /* below the folder: "squall/clap.wav" */
    char *path;              /* folder and file */
    char *name;              /* of the outputs, without their endings; "" if there are none */
    int64_t bytes;
    char *events;            /* an edited events file that takes the place of what is heard, or NULL */
    uint64_t key;            /* digest of its name */
    uint32_t parts[PARTS];   /* digests of all that shapes its outputs */
    struct result result;    /* the worker's, until it is done */

    enum clip_state state;        /* from here on the caller's */
    bool sound_known;        /* it could be read for its digest */
    bool kept, begun_before; /* done before; begun before and not finished */
    bool remembered;         /* parts_before and figures_before hold */
    bool force_does;         /* refused for what changed since alone: --force does it again */
    bool own_only;           /* its outputs may be replaced where they are as they were written */
    uint32_t parts_before[PARTS];
    int64_t figures_before[FIGURES];
    enum clip_state state_before;
    char *message_before;
    char *edited;            /* an output of a kept clip that is not as it was written, or NULL */
};

struct round {
    const struct batch *batch;
    const struct tc_rig *rig;
    const struct tc_settings *settings;
    struct tc_problem *why;
    struct clip *clips;      /* by file */
    size_t count, room;
    size_t *order;           /* the clips to do, largest first */
    size_t order_count;
    uint32_t ground[PARTS];  /* what shapes all outputs alike */
    char *summary_path;
    int lock;
    atomic_int children;     /* at work */
    /* for the line of progress */
    size_t finished, failed;
    int64_t bytes, bytes_finished, length_finished;
    double begun, summary_at;
};

/* TC_ERR_MEMORY, said. */
enum tc_status round_no_memory(struct round *r);

/* ---- batch_scan.c: the folder, and the names of the outputs ---- */

/* A row for every file, by name. */
enum tc_status round_scan(struct round *r);
/* See output_names.h. */
enum tc_status round_name_outputs(struct round *r);
/* The folder that a clip's outputs go to. The caller frees it. */
char *clip_out_folder(const struct round *r, const struct clip *c);
/* How many of a clip's outputs are there; *all tells whether none is missing. */
size_t clip_files_there(const struct round *r, const struct clip *c, const char *folder, bool *all);

/* ---- batch_summary.c: the summary, which is also the memory ---- */

enum tc_status summary_write(struct round *r);
/* Takes over what the last run wrote. */
enum tc_status summary_recall(struct round *r);

/* ---- batch_apart.c: a process for each clip ---- */

/* Runs task(r, c) in a process of its own and takes over its result. */
void clip_run_apart(struct round *r, struct clip *c, void (*task)(struct round *r, struct clip *c));

/* ---- batch_decide.c: which clips are to be done ---- */

enum tc_status round_digest_ground(struct round *r);
/* For the pool: opens a clip and takes its digest. */
void round_look(void *round, size_t item);
void round_looked(void *round, size_t item);
/* What is to be done with each clip: nothing, all, or it is refused. */
enum tc_status round_decide(struct round *r);
/* Why clips were refused and what helps, if it is the same for all of them: "settings changed; --force ..." */
void round_say_refused(const struct round *r, char *to, size_t size);

#endif
