/* A rig file; the rig that comes of it plays a little storm. */
#include "fuzz.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct tc_rig rig;
    struct tc_problem why = { "" };
    enum tc_status status = tc_rig_read((const char *)data, size, "fuzz", &rig, &why);
    FUZZ_CHECK(status == TC_OK || status == TC_ERR_RIG);
    FUZZ_CHECK(status == TC_OK || *why.text);
    if (status == TC_OK) {
        FUZZ_CHECK(rig.channel_count <= TC_MAX_CHANNELS);
        struct tc_settings s = tc_settings_default();
        struct tc_analysis heard = fuzz_events();
        fuzz_play(&heard, &rig, &s);
        tc_analysis_clear(&heard);
    }
    tc_rig_clear(&rig);
    return 0;
}
