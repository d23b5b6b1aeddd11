#include "app/tune/tune_listen.h"

#include <stdlib.h>

#include "app/clip/listen_file.h"
#include "io/files/read_form.h"
#include "words/numbers.h"
#include "words/status.h"

enum tc_status tune_hear(const char *recording, const struct tc_settings *s, struct part part,
                         struct tc_analysis *out, struct tc_problem *remark, struct tc_problem *why)
{
    enum tc_status status = listen_file(recording, s, out, remark, why);
    if (status == TC_OK && part.from_ms >= out->length_ms)
        return problem_set(why, TC_ERR_USAGE, "from: %s s is after the end of the recording at %s s",
                           SHOWN((double)part.from_ms / 1000, 9), SHOWN((double)out->length_ms / 1000, 9));
    if (status == TC_OK) part_of_analysis(part, out);
    return status;
}

enum tc_status tune_listen(const char *recording, const char *labels_path, const struct tc_settings *s,
                           struct part part, struct sweep *out, struct label_notes *notes,
                           struct tc_problem *why)
{
    struct tc_analysis heard = { 0 };
    struct marks marks = { .sensitivity = -1 };
    struct tc_problem remark = { "" };
    char *beside = labels_path ? NULL : labels_beside(recording);
    if (!labels_path) labels_path = beside;

    enum tc_status status = labels_path ? read_marks(labels_path, &marks, why) : TC_OK;
    if (status == TC_OK) status = tune_hear(recording, s, part, &heard, &remark, why);
    if (status == TC_OK && *remark.text) label_note(notes, "%s", remark.text);
    if (status == TC_OK && labels_path) status = labels_fit(&marks, labels_path, heard.length_ms, notes, why);
    if (status == TC_OK) {
        status = sweep_take(out, &heard, labels_path ? &marks : NULL, part, s->sensitivity);
        if (status != TC_OK) problem_say(why, status);
    }
    marks_clear(&marks);
    tc_analysis_clear(&heard);
    free(beside);
    return status;
}
