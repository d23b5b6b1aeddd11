/* Bytes of a recording, whatever its format. */
#include <math.h>

#include "app/clip/listen_file.h"
#include "fuzz.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct fuzz_file f = fuzz_open(data, size);
    struct tc_settings s = tc_settings_default();
    struct tc_analysis heard;
    struct tc_problem why = { "" }, remark = { "" };
    enum tc_status status = listen_file(f.path, &s, &heard, &remark, &why);
    FUZZ_CHECK(status == TC_OK || status == TC_ERR_READ);
    FUZZ_CHECK(status == TC_OK || *why.text);
    for (size_t i = 0; i < heard.event_count; i++) {
        const struct tc_event *e = &heard.events[i];
        FUZZ_CHECK(e->start_ms >= 0 && e->start_ms <= e->end_ms && e->end_ms <= heard.length_ms);
        FUZZ_CHECK(e->strength >= 0 && e->strength <= 1 && e->sharpness >= 0 && e->sharpness <= 1);
        FUZZ_CHECK(isfinite(e->level_dbfs));
        FUZZ_CHECK(!i || heard.events[i - 1].start_ms <= e->start_ms);
    }
    struct tc_rig rig;
    FUZZ_CHECK(tc_rig_builtin(&rig) == TC_OK);
    if (status == TC_OK) fuzz_play(&heard, &rig, &s);
    tc_rig_clear(&rig);
    tc_analysis_clear(&heard);
    fuzz_close(&f);
    return 0;
}
