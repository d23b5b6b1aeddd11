#include "light/audit_reading.h"

#include <stdarg.h>
#include <stdio.h>

#include "words/csv.h"

void audit_note(struct audit_reading *r, enum audit_topic topic, size_t column, const char *format, ...)
{
    struct audit *a = r->out;
    if (r->quiet || a->counts[topic]++ >= AUDIT_KEPT) return;
    struct audit_remark *m = &a->remarks[topic][a->counts[topic] - 1];
    m->line = r->csv ? csv_line(r->csv) : 1;
    m->column = column;
    va_list args;
    va_start(args, format);
    vsnprintf(m->text, sizeof m->text, format, args);
    va_end(args);
}

size_t audit_nth(const struct audit_reading *r, size_t column)
{
    return column < r->time ? column : column - 1;
}
