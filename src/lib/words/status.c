#include "words/status.h"

#include <stdarg.h>
#include <stdio.h>

static const char *const texts[TC_STATUS_COUNT] = {
    [TC_OK]           = "done",
    [TC_ERR_USAGE]    = "wrong usage",
    [TC_ERR_RIG]      = "the rig file is wrong",
    [TC_ERR_FORM]     = "the file is not in the expected form",
    [TC_ERR_READ]     = "the recording can't be read",
    [TC_ERR_WRITE]    = "the output can't be written",
    [TC_ERR_EXISTS]   = "the output exists already",
    [TC_ERR_MEMORY]   = "out of memory",
    [TC_ERR_STOPPED]  = "stopped",
    [TC_ERR_INTERNAL] = "internal error, please report it",
};

const char *tc_version(void)
{
    return TC_VERSION;
}

const char *tc_status_text(enum tc_status status)
{
    return (unsigned)status < TC_STATUS_COUNT ? texts[status] : "unknown status";
}

enum tc_status problem_set(struct tc_problem *why, enum tc_status status, const char *format, ...)
{
    if (why) {
        va_list args;
        va_start(args, format);
        vsnprintf(why->text, sizeof why->text, format, args);
        va_end(args);
    }
    return status;
}

enum tc_status problem_say(struct tc_problem *why, enum tc_status status)
{
    return problem_set(why, status, "%s", tc_status_text(status));
}
