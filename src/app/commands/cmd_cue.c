/* thundercue cue: the main job. */
#include <stdio.h>
#include <string.h>

#include "app/clip/recording.h"
#include "app/clip/report.h"
#include "app/commands/commands.h"
#include "io/files/outfile.h"
#include "words/settings.h"

static int run(const struct command *self, int argc, char **argv)
{
    struct job job = { 0 };
    bool quiet = false, no_preview = false, force = false, discard = false;
    const struct option_row options[] = {
        { "out", OPTION_TEXT, &job.out_dir, 0, 0, "DIR", "put the files there (made if missing; default: here)" },
        ROW_RIG(&job.rig_path),
        ROW_EVENTS(&job.events),
        ROW_JSON(&job.json),
        { "no-preview", OPTION_FLAG, &no_preview, 0, 0, NULL, "leave out the page" },
        ROW_FORCE(&force),
        ROW_DISCARD(&discard),
        ROW_QUIET(&quiet),
        { 0 },
    };
    struct cli cli;
    if (!cli_parse(&cli, self, options, argc, argv)) return cli.exit;
    int exit = EXIT_DONE;
    if (cli.argument_count > 1) exit = cli_usage(self, "one recording at a time; `thundercue batch` takes a folder");
    else if (cli.argument_count == 0 && !job.events) exit = cli_usage(self, "which recording? ('-' is standard input)");
    if (exit != EXIT_DONE) {
        cli_done(&cli);
        return exit;
    }
    job.preview = !no_preview;
    job.over = discard ? OVER_EDITS : force ? OVER_OURS : OVER_NOTHING;
    job.inputs = &cli.inputs;
    if (job.json && !strcmp(job.json, "-")) quiet = true; /* standard output is for the machine */
    job.recording = cli.argument_count ? cli.arguments[0] : NULL;

    struct tc_rig rig;
    struct tc_problem why = { "" };
    struct outcome outcome = { 0 };
    enum tc_status status = cli_rig(job.rig_path, &rig, &why);
    outfile_sweep(job.out_dir ? job.out_dir : ".");
    if (status == TC_OK) {
        status = recording_run(&job, &rig, &cli.settings, &outcome, &why);
        if (status == TC_OK && !quiet) report_text(stdout, &job, &rig, &cli.settings, &outcome);
        if (status == TC_OK && report_findings(&rig, &outcome)) exit = EXIT_FINDINGS;
        outcome_clear(&outcome);
        tc_rig_clear(&rig);
    }
    cli_done(&cli);
    return status == TC_OK ? exit : cli_fail(status, &why);
}

const struct command command_cue = {
    "cue", "RECORDING", "Turn a thunder recording into a flash timeline: the main job", run, SETTING_ALL, NULL,
};
