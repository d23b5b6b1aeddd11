#include "io/read_form.h"

#include <string.h>

#include "io/read_file.h"
#include "io/stop.h"
#include "words/settings.h"

static const char *shown(const char *path)
{
    return strcmp(path, "-") ? path : "standard input";
}

enum tc_status read_rig(const char *path, struct tc_rig *out, struct tc_problem *why)
{
    struct file_text text;
    *out = (struct tc_rig){ 0 };
    enum tc_status status = file_read(path, TC_ERR_RIG, &text, why);
    if (status != TC_OK) return status;
    status = tc_rig_read(text.bytes, text.size, shown(path), out, why);
    file_text_free(&text);
    return status;
}

enum tc_status read_settings(const char *path, struct tc_settings *s, struct tc_problem *why)
{
    struct file_text text;
    enum tc_status status = file_read(path, TC_ERR_FORM, &text, why);
    if (status != TC_OK) return status;
    status = tc_settings_read(text.bytes, text.size, shown(path), s, why);
    file_text_free(&text);
    return status;
}

enum tc_status read_marks(const char *path, struct marks *out, struct tc_problem *why)
{
    struct file_text text;
    *out = (struct marks){ .sensitivity = -1 };
    enum tc_status status = file_read(path, TC_ERR_FORM, &text, why);
    if (status != TC_OK) return status;
    status = marks_read_watched(text.bytes, text.size, shown(path), stop_of_calls(), out, why);
    file_text_free(&text);
    return status;
}
