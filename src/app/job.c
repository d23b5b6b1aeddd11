#include "app/job.h"

#include <stdlib.h>
#include <string.h>

#include "rig/load.h"

void outcome_clear(struct outcome *o)
{
    for (int i = 0; i < RUN_FILES; i++) free(o->paths[i]);
    load_report_clear(&o->load);
    memset(o, 0, sizeof *o);
}
