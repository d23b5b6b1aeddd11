/* A timeline that somebody wants checked. */
#include <stdio.h>

#include "app/audit.h"
#include "fuzz.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct fuzz_file f = fuzz_open(data, size);
    struct tc_rig rig;
    struct tc_problem why = { "" };
    FUZZ_CHECK(tc_rig_builtin(&rig) == TC_OK);
    bool with_rig = size & 2;
    struct audit audit;
    struct audit_job job = { .name = "frames.csv", .rig = with_rig ? &rig : NULL, .perhaps = with_rig ? NULL : &rig,
                             .limit = 3, .loop = size & 1 };
    FILE *in = fopen(f.path, "rb");
    FUZZ_CHECK(in);
    enum tc_status status = audit_run(&job, in, &audit, &why);
    FUZZ_CHECK(status == TC_OK || status == TC_ERR_READ);
    audit_clear(&audit);
    fclose(in);
    tc_rig_clear(&rig);
    fuzz_close(&f);
    return 0;
}
