#include "app/report/other_tables.h"

const struct audit_table other_tables[] = {
    { "file", "status", "a summary of a folder" },
    { "start_s", "gain_db", "the running order of an evening" },
    { 0 },
};
