#include "light/audit_reading.h"

#include <stdarg.h>
#include <stdio.h>

#include "words/csv.h"

static void note(struct audit_reading *r, enum audit_topic topic, const struct audit_remark *remark)
{
    struct audit *a = r->out;
    if (!r->quiet && a->counts[topic]++ < AUDIT_KEPT) a->remarks[topic][a->counts[topic] - 1] = *remark;
}

void audit_note(struct audit_reading *r, enum audit_topic topic, size_t column, const char *format, ...)
{
    struct audit_remark m = { .line = r->csv ? csv_line(r->csv) : 1, .column = column };
    va_list args;
    va_start(args, format);
    vsnprintf(m.text, sizeof m.text, format, args);
    va_end(args);
    note(r, topic, &m);
}

void audit_note_misfit(struct audit_reading *r, size_t column, const char *format, ...)
{
    struct audit_remark m = { .line = r->csv ? csv_line(r->csv) : 1, .column = column };
    va_list args;
    va_start(args, format);
    vsnprintf(m.text, sizeof m.text, format, args);
    va_end(args);
    if (!*r->out->misfit.text) r->out->misfit = m;
    note(r, AUDIT_RIG, &m);
}

size_t audit_nth(const struct audit_reading *r, size_t column)
{
    return column < r->time ? column : column - 1;
}
