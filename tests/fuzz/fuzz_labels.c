/* An events or label file; what it says is cued and played. */
#include <stdlib.h>

#include "fuzz.h"
#include "marks/events_text.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct marks m;
    struct tc_problem why = { "" };
    enum tc_status status = marks_read((const char *)data, size, "fuzz", &m, &why);
    FUZZ_CHECK(status == TC_OK || status == TC_ERR_FORM);
    FUZZ_CHECK(status == TC_OK || *why.text);
    struct tc_analysis heard = fuzz_events();
    free(heard.events);
    heard.event_count = m.count;
    FUZZ_CHECK((heard.events = calloc(m.count + 1, sizeof *heard.events)));
    for (size_t i = 0; i < m.count; i++) {
        heard.events[i] = m.labels[i].event;
        FUZZ_CHECK(heard.events[i].start_ms >= 0 && heard.events[i].start_ms <= heard.events[i].end_ms);
        FUZZ_CHECK(!i || heard.events[i - 1].start_ms <= heard.events[i].start_ms);
    }
    struct tc_rig rig;
    struct tc_settings s = tc_settings_default();
    s.frame_rate = 120; /* as many as fuzz_events has in its envelope */
    FUZZ_CHECK(tc_rig_builtin(&rig) == TC_OK);
    if (status == TC_OK) fuzz_play(&heard, &rig, &s);
    tc_rig_clear(&rig);
    tc_analysis_clear(&heard);
    marks_clear(&m);
    return 0;
}
