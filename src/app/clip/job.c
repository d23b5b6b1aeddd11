#include "app/clip/job.h"

#include <stdlib.h>
#include <string.h>

#include "rig/load.h"

static const struct run_file files[RUN_FILES] = {
    [RUN_EVENTS] = { ".events.csv", "events", "what was heard; edit it and cue from it again with\n.B \\-\\-events" },
    [RUN_RAMPS]  = { ".ramps.csv", "ramps", "levels as straight lines, channel by channel" },
    [RUN_FRAMES] = { ".frames.csv", "frames", "a row of levels for every light frame" },
    [RUN_PAGE]   = { ".preview.html", "preview", "a page that plays the storm" },
};

const struct run_file *run_file(int which)
{
    return &files[which];
}

void outcome_clear(struct outcome *o)
{
    for (int i = 0; i < RUN_FILES; i++) free(o->paths[i]);
    load_report_clear(&o->load);
    memset(o, 0, sizeof *o);
}
