/* The story of a folder: every recording in it through the pipeline, several
 * at once, and a summary that tells what became of each.
 *
 * `summary.csv` in the output folder is also the memory: one row a clip, in
 * the order of their names, rewritten whole every few seconds. A clip whose
 * content, settings, rig and program version have the fingerprint of its row,
 * and whose outputs are there, is not done again. A row says `unfinished`
 * before a clip is begun, so that after a crash the next run knows which
 * outputs it may overwrite without being told to; and
 * the lock is on the output folder itself: it dies with the process.
 *
 * Only outputs that are as thundercue wrote them (io/files/ledger.h) are replaced. An
 * edited events file beside the timelines takes the place of what would be
 * heard, and stays.
 *
 * Outputs are named by the clip's stem if no other clip in its folder has the
 * same (letter case aside), else by its whole name: clap.wav.events.csv. That
 * depends on the folder alone, not on earlier runs or the number of workers. */
#ifndef TC_BATCH_H
#define TC_BATCH_H

#include "io/files/inputs.h"
#include "words/model.h"

/* What to do. Strings are borrowed. */
struct batch {
    const char *folder, *out_dir;
    const char *rig_path;      /* as the user gave it; NULL = built in */
    const struct inputs *inputs; /* files that no output may replace; NULL = none */
    bool recursive, force, preview;
    bool discard_edits;        /* overwrite files that were edited, listen anew */
    size_t jobs;
};

/* What came of it. */
struct batch_sum {
    size_t done, kept, findings, failed, refused, skipped, unfinished; /* clips; `kept` were done before */
    char refused_why[160];     /* and what helps, if it is the same for all refused; or "" */
    size_t passed_over;        /* files that are no recordings */
    size_t cracks, rumbles;
    int64_t length_ms;
};

/* Takes a line for the user about one clip; called on the caller's thread. */
typedef void batch_tell(void *user, const char *line);

/* TC_OK also when clips failed or were refused: see *sum. TC_ERR_READ: the folder can't be
 * read or has no recording; TC_ERR_WRITE: no summary, or another run is at
 * work there; TC_ERR_EXISTS: summary.csv is something else; TC_ERR_STOPPED. */
enum tc_status batch_run(const struct batch *b, const struct tc_rig *rig, const struct tc_settings *s,
                         struct batch_sum *sum, batch_tell *tell, void *user, struct tc_problem *why);

#endif
