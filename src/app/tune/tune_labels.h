/* Label files: which is a recording's, which are named in vain, and what in
 * them can't be meant. */
#ifndef TC_TUNE_LABELS_H
#define TC_TUNE_LABELS_H

#include "marks/events_text.h"

/* Lines for the user. Beyond the last there is no room; it is for one file's. */
struct label_notes {
    struct tc_problem lines[8];
    size_t count;
};

void label_note(struct label_notes *notes, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* "storm/clap.labels.csv" for "storm/clap.wav" if there is such a file, else
 * NULL. The caller frees it. */
char *labels_beside(const char *recording);

/* Leaves out cracks and rumbles that start after the recording's end, and
 * cracks at a time that another one has (the greater weight stays), each with a
 * note that names its line. TC_ERR_FORM with *why where none is left. */
enum tc_status labels_fit(struct marks *m, const char *path, int64_t length_ms, struct label_notes *notes,
                          struct tc_problem *why);

/* Looks through a folder for files that were meant to be labels and are not
 * used as such: "clap.label.csv", "clap.wav.labels.csv", or labels without a
 * recording. `recordings` are the paths of those in it; `others`: also tells of
 * labels that go with none of them. A line each to `say`. */
void labels_misnamed(const char *folder, char *const *recordings, size_t count, bool others,
                     void (*say)(const char *line));

#endif
