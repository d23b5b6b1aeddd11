#include "io/files/read_form.h"

#include <string.h>

#include "io/files/read_file.h"
#include "io/process/stop.h"
#include "words/settings.h"

/* What takes a text apart into one of the library's nouns. */
typedef enum tc_status take_text(const struct file_text *text, const char *shown, void *out, struct tc_problem *why);

static enum tc_status read_form(const char *path, enum tc_status unreadable, take_text *take, void *out,
                                struct tc_problem *why)
{
    struct file_text text;
    enum tc_status status = file_read(path, unreadable, &text, why);
    if (status != TC_OK) return status;
    status = take(&text, strcmp(path, "-") ? path : "standard input", out, why);
    file_text_free(&text);
    return status;
}

struct rig_wanted {
    struct tc_rig *rig;
    struct rig_problems *all;
};

static enum tc_status take_rig(const struct file_text *text, const char *shown, void *out, struct tc_problem *why)
{
    struct rig_wanted *wanted = out;
    return rig_read(text->bytes, text->size, shown, wanted->rig, wanted->all, why);
}

static enum tc_status take_settings(const struct file_text *text, const char *shown, void *out, struct tc_problem *why)
{
    return tc_settings_read(text->bytes, text->size, shown, out, why);
}

static enum tc_status take_marks(const struct file_text *text, const char *shown, void *out, struct tc_problem *why)
{
    return marks_read_watched(text->bytes, text->size, shown, stop_of_calls(), out, why);
}

enum tc_status read_rig(const char *path, struct tc_rig *out, struct tc_problem *why)
{
    return read_rig_all(path, out, NULL, why);
}

enum tc_status read_rig_all(const char *path, struct tc_rig *out, struct rig_problems *all, struct tc_problem *why)
{
    *out = (struct tc_rig){ 0 };
    if (all) all->count = 0;
    return read_form(path, TC_ERR_RIG, take_rig, &(struct rig_wanted){ out, all }, why);
}

enum tc_status read_settings(const char *path, struct tc_settings *s, struct tc_problem *why)
{
    return read_form(path, TC_ERR_FORM, take_settings, s, why);
}

enum tc_status read_marks(const char *path, struct marks *out, struct tc_problem *why)
{
    *out = (struct marks){ .sensitivity = -1 };
    return read_form(path, TC_ERR_FORM, take_marks, out, why);
}
