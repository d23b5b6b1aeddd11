/* Event and label files, which have one form:
 * kind,start_s,end_s,peak_s,strength,sharpness,level_dbfs, of which a label
 * file may leave out all but the first two, and weight, strokes, path,
 * sensitivity, frame_rate besides. Columns and rows come in any order (the
 * header row names the columns); separators, decimal commas and line ends are
 * those of words/csv.h. */
#ifndef TC_EVENTS_TEXT_H
#define TC_EVENTS_TEXT_H

#include "words/model.h"

/* What such a file says. */
struct marks {
    struct label *labels;    /* by start, cracks before rumbles at the same start */
    size_t count;
    double sensitivity;      /* at which they were chosen from what was heard; -1 = it does not say */
    int64_t frame_rate;      /* of the analysis; 0 = it does not say */
    char remark[200];        /* columns that were passed over; "" = none */
};

/* Reads a text; `shown` is the file's name in messages. A crack is a moment: its
 * end and peak go with its start. A column whose name is nearly a known one is an
 * error; others are passed over with a remark. TC_ERR_FORM with *why naming file
 * and line, TC_ERR_MEMORY. Clear *out in any case. */
enum tc_status marks_read(const char *text, size_t size, const char *shown, struct marks *out,
                          struct tc_problem *why);
/* The same for long files: TC_ERR_STOPPED where the watch (may be NULL) says so. */
enum tc_status marks_read_watched(const char *text, size_t size, const char *shown, const struct tc_watch *watch,
                                  struct marks *out, struct tc_problem *why);
void marks_clear(struct marks *m);

#endif
