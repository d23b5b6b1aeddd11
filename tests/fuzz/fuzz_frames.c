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
    audit_clear(&audit);
    tc_rig_clear(&rig);
    return 0;
}
