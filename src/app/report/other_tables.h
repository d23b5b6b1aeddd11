/* The program's own tables beside those that the library writes: whoever gets
 * one in place of a frames file is told what it is. */
#ifndef TC_OTHER_TABLES_H
#define TC_OTHER_TABLES_H

#include "light/audit_columns.h"

/* As `others` of struct audit_job takes them. */
extern const struct audit_table other_tables[];

#endif
