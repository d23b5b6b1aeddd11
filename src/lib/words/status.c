#include "words/status.h"

#include <stdarg.h>
#include <stdio.h>

struct row {
    int exit;
    const char *text;
};

static const struct row rows[TC_STATUS_COUNT] = {
    [TC_OK]           = { 0, "done" },
    [TC_ERR_USAGE]    = { 2, "wrong usage" },
    [TC_ERR_RIG]      = { 2, "the rig file is wrong" },
    [TC_ERR_FORM]     = { 2, "the file is not in the expected form" },
    [TC_ERR_READ]     = { 3, "the recording can't be read" },
    [TC_ERR_WRITE]    = { 4, "the output can't be written" },
    [TC_ERR_EXISTS]   = { 4, "the output exists already" },
    [TC_ERR_MEMORY]   = { 5, "out of memory" },
    [TC_ERR_STOPPED]  = { 1, "stopped" },
    [TC_ERR_INTERNAL] = { 5, "internal error, please report it" },
};

const char *tc_version(void)
{
    return TC_VERSION;
}

const char *tc_status_text(enum tc_status status)
{
    return (unsigned)status < TC_STATUS_COUNT ? rows[status].text : "unknown status";
}

int status_exit(enum tc_status status)
{
    return (unsigned)status < TC_STATUS_COUNT ? rows[status].exit : 5;
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
