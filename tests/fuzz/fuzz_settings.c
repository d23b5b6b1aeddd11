/* A settings file; the settings that come of it play a little storm. */
#include <string.h>

#include "fuzz.h"
#include "words/settings.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct tc_settings s = tc_settings_default();
    struct tc_problem why = { "" };
    enum tc_status status = tc_settings_read((const char *)data, size, "fuzz", &s, &why);
    FUZZ_CHECK(status == TC_OK || (status == TC_ERR_FORM && *why.text));
    for (size_t i = 0; i < setting_count(); i++) { /* what was taken can be written and read back */
        struct tc_settings again = tc_settings_default();
        char value[32], twice[32];
        setting_value(setting_at(i), &s, value, sizeof value);
        FUZZ_CHECK(tc_settings_set(&again, setting_at(i)->name, value, &why) == TC_OK);
        FUZZ_CHECK(!strcmp(setting_value(setting_at(i), &again, twice, sizeof twice), value));
    }
    if (status == TC_OK && tc_settings_check(&s, &why) == TC_OK) {
        struct tc_rig rig;
        struct tc_analysis heard = fuzz_events();
        FUZZ_CHECK(tc_rig_builtin(&rig) == TC_OK);
        heard.envelope_count = (size_t)(heard.length_ms * s.frame_rate / 1000 + 1);
        fuzz_play(&heard, &rig, &s);
        tc_rig_clear(&rig);
        tc_analysis_clear(&heard);
    }
    return 0;
}
