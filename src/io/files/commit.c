#include "io/files/commit.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "io/files/digest.h"
#include "words/status.h"
#include "words/text.h"

/* All that must be known of a file before it gets its name. */
static enum tc_status prepare(struct ledger *l, struct outfile *file, enum ledger_over over, uint64_t *digest,
                              struct tc_problem *why)
{
    const char *path = outfile_path(file), *aside = outfile_aside(file);
    enum tc_status status = ledger_check(l, path, over, why);
    if (status != TC_OK) return status;
    *digest = 0;
    char plain[512];
    if (aside && !digest_file(digest, aside, NULL))
        return problem_set(why, TC_ERR_WRITE, "%s: can't be read back", text_plain(plain, sizeof plain, path));
    return TC_OK;
}

enum tc_status commit_together(struct outfile **files, size_t count, const char *folder, enum ledger_over over,
                             struct tc_problem *why)
{
    struct ledger *l = NULL;
    uint64_t *digests = calloc(count + 1, sizeof *digests);
    enum tc_status status = digests ? TC_OK : problem_say(why, TC_ERR_MEMORY);
    for (size_t i = 0; i < count && status == TC_OK; i++)
        if (files[i]) status = outfile_seal(files[i], why);
    if (status == TC_OK) status = ledger_hold(&l, folder, why);
    for (size_t i = 0; i < count && status == TC_OK; i++)
        if (files[i]) status = prepare(l, files[i], over, &digests[i], why);
    for (size_t i = 0; i < count && status == TC_OK; i++)
        if (files[i]) status = ledger_note(l, outfile_path(files[i]), digests[i], why);
    if (status == TC_OK) status = ledger_settle(l, why);
    for (size_t i = 0; i < count && status == TC_OK; i++) {
        struct outfile *file = files[i];
        if (!file) continue;
        files[i] = NULL;
        char *path = strdup(outfile_path(file));
        status = outfile_commit(file, why);
        if (status == TC_OK && path) ledger_noted(l, path, digests[i]);
        free(path);
    }
    ledger_close(l);
    free(digests);
    return status;
}
