/* A timeline that somebody wants checked. */
#include <stdio.h>

#include "fuzz.h"
#include "light/audit.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct tc_rig rig;
    struct tc_problem why = { "" };
    FUZZ_CHECK(tc_rig_builtin(&rig) == TC_OK);
    bool with_rig = size & 2;
    struct audit audit;
    struct audit_job job = { .name = "frames.csv", .rig = with_rig ? &rig : NULL, .perhaps = with_rig ? NULL : &rig,
                             .limit = 3, .loop = size & 1 };
    enum tc_status status = audit_run(&job, (const char *)data, size, &audit, &why);
    FUZZ_CHECK(status == TC_OK);

    /* What the strict check takes, the audit has no word against, and both count the same. */
    struct tc_settings s = tc_settings_default();
    struct tc_check check;
    s.levels = audit.unit == AUDIT_8BIT ? TC_LEVELS_8BIT : TC_LEVELS_PERCENT;
    s.loop = job.loop;
    status = tc_check_frames((const char *)data, size, "frames.csv", &rig, &s, NULL, &check, &why);
    FUZZ_CHECK(status == TC_OK || (status == TC_ERR_FORM && *why.text));
    if (status == TC_OK && with_rig && audit.unit != AUDIT_UNIT) {
        for (int t = 0; t < AUDIT_TOPICS; t++) FUZZ_CHECK(!audit.counts[t]);
        FUZZ_CHECK(check.peak_transitions == audit.flash.peak_transitions);
        FUZZ_CHECK(check.too_fast == audit_flashes_too_fast(&audit));
    }
    tc_check_clear(&check);
    audit_clear(&audit);
    tc_rig_clear(&rig);
    return 0;
}
