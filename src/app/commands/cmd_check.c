/* thundercue check: what is to be said about a timeline, whoever made it. */
#include <stdio.h>
#include <string.h>

#include "app/commands/commands.h"
#include "app/report/audit_report.h"
#include "app/report/other_tables.h"
#include "io/files/keepsake.h"
#include "io/files/long_text.h"
#include "io/files/outfile.h"
#include "io/process/stop.h"
#include "io/sound/sound_kind.h"
#include "words/settings.h"
#include "words/status.h"

struct checking {
    const char *path, *rig_path, *levels, *json;
    bool force, quiet;
    struct audit_job job;
    struct audit audit;
};

static enum tc_status write_json(const struct checking *k, struct tc_problem *why)
{
    struct outfile *file;
    enum tc_status status = k->force ? keepsake_refuse(k->json, false, why) : TC_OK;
    if (status == TC_OK) status = outfile_open(&file, k->json, k->force, why);
    if (status != TC_OK) return status;
    json_t *root = audit_report_json(&k->job, &k->audit);
    if (!root) {
        outfile_abandon(file);
        return problem_say(why, TC_ERR_MEMORY);
    }
    /* A stream that can't be written shows at the commit. */
    json_dumpf(root, outfile_stream(file), JSON_INDENT(2) | JSON_PRESERVE_ORDER | JSON_REAL_PRECISION(12));
    putc('\n', outfile_stream(file));
    json_decref(root);
    return outfile_commit(file, why);
}

/* Read as a table, a recording would only look strange. */
static void know_recording(struct checking *k)
{
    if (k->audit.rows || !sound_has_ending(k->path)) return;
    k->audit.other_table = "a recording";
    snprintf(k->audit.remarks[AUDIT_FORM][0].text, sizeof k->audit.remarks[AUDIT_FORM][0].text,
             "this is a recording; check takes a frames file (thundercue cue makes one of it)");
}

static int check(struct checking *k)
{
    struct tc_problem why = { "" };
    struct tc_rig rig = { 0 };
    struct long_text text = { 0 };
    enum tc_status status = cli_rig(k->rig_path, &rig, &why);
    k->job.others = other_tables;
    k->job.watch = stop_of_calls();
    if (k->rig_path) k->job.rig = &rig;
    else k->job.perhaps = &rig;
    if (status == TC_OK) status = long_text_open(&text, k->path, TC_ERR_READ, &why);
    if (status == TC_OK) status = audit_run_text(&k->job, &text.text, &k->audit, &why);
    if (status == TC_OK) status = long_text_result(&text, k->path, TC_ERR_READ, &why);
    if (status == TC_OK) know_recording(k);
    if (status == TC_OK && !k->quiet) audit_report_text(stdout, &k->job, &k->audit);
    if (status == TC_OK && k->json) status = write_json(k, &why);
    int exit = status != TC_OK ? cli_fail(status, &why)
             : audit_findings(&k->audit) ? EXIT_FINDINGS : EXIT_DONE;
    long_text_close(&text);
    audit_clear(&k->audit);
    tc_rig_clear(&rig);
    return exit;
}

static bool choose_unit(const char *word, enum audit_unit *unit)
{
    static const char *const words[] = { "guess", "percent", "8bit", "unit" };
    for (int i = 0; i < 4; i++) {
        if (strcmp(word, words[i])) continue;
        *unit = (enum audit_unit)i;
        return true;
    }
    return false;
}

static int run(const struct command *self, int argc, char **argv)
{
    struct checking k = { .levels = "guess" };
    const struct option_row options[] = {
        { "rig", OPTION_INPUT, &k.rig_path, 0, 0, "FILE", "the rig whose channels the columns are" },
        { "levels", OPTION_TEXT, &k.levels, 0, 0, "guess|percent|8bit|unit",
          "how the file writes its levels (unit: 0 to 1)" },
        { "json", OPTION_OUTPUT, &k.json, 0, 0, "FILE", "also write what is found for machines" },
        { "force", OPTION_FLAG, &k.force, 0, 0, NULL, "overwrite an existing --json file" },
        { "quiet", OPTION_FLAG, &k.quiet, 0, 0, NULL, "print nothing; the exit status tells" },
        { 0 },
    };
    struct cli cli;
    if (!cli_parse(&cli, self, options, argc, argv)) return cli.exit;
    int exit = EXIT_DONE;
    if (cli.argument_count != 1) {
        exit = cli_usage(self, "give one frames file ('-' is standard input)");
    } else if (!choose_unit(k.levels, &k.job.unit)) {
        exit = cli_usage(self, "--levels: '%s' is not guess, percent, 8bit or unit", k.levels);
    } else {
        k.path = k.job.name = cli.arguments[0];
        k.job.limit = cli.settings.flash_limit;
        k.job.loop = cli.settings.loop;
        exit = check(&k);
    }
    cli_done(&cli);
    return exit;
}

const struct command command_check = {
    "check", "FRAMES.csv", "Audit a timeline: flash rate, load and form", run, SETTING_FLASHES, NULL,
};
