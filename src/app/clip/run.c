#include "app/clip/run.h"

#include "io/process/stop.h"

enum tc_status run_cue(struct run *r)
{
    return tc_cue(&r->heard, r->rig, r->settings, stop_of_calls(), &r->timeline, r->why);
}

void run_end(struct run *r)
{
    page_sound_destroy(r->sound);
    source_close(r->source);
    tc_timeline_clear(&r->timeline);
    tc_analysis_clear(&r->heard);
    r->sound = NULL;
    r->source = NULL;
}
