/* thundercue batch: a folder of storm clips in one go. */
#include <stdio.h>
#include <string.h>

#include "app/batch/batch.h"
#include "app/commands/commands.h"
#include "io/process/pool.h"
#include "words/settings.h"
#include "words/text.h"

static void tell(void *user, const char *line)
{
    (void)user;
    fprintf(stderr, "thundercue: %s\n", line);
}

static void count(const char *word, size_t n)
{
    if (n) printf(", %zu %s", n, word);
}

static void print_totals(const struct batch *b, const struct batch_sum *sum)
{
    size_t clips = sum->done + sum->kept + sum->findings + sum->failed + sum->refused + sum->skipped + sum->unfinished;
    char plain[512];
    long long s = (sum->length_ms + 500) / 1000;
    printf("%zu clip%s: %zu done", clips, clips == 1 ? "" : "s", sum->done);
    count("done before", sum->kept);
    count("with findings", sum->findings);
    count("refused", sum->refused);
    if (*sum->refused_why) printf(" (%s)", sum->refused_why);
    count("failed", sum->failed);
    count("skipped", sum->skipped);
    count("unfinished", sum->unfinished);
    if (sum->length_ms > 0)
        printf("; %zu crack%s and %zu rumble%s in %lld:%02lld:%02lld of sound", sum->cracks,
               sum->cracks == 1 ? "" : "s",
               sum->rumbles, sum->rumbles == 1 ? "" : "s", s / 3600, s / 60 % 60, s % 60);
    if (sum->passed_over) printf("; %zu other file%s ignored", sum->passed_over, sum->passed_over == 1 ? "" : "s");
    printf("\nsummary: %s/summary.csv\n", text_plain(plain, sizeof plain, b->out_dir));
}

static int run_batch(const struct batch *b, const struct tc_settings *s, bool quiet)
{
    struct tc_rig rig;
    struct tc_problem why = { "" };
    struct batch_sum sum;
    enum tc_status status = cli_rig(b->rig_path, &rig, &why);
    if (status != TC_OK) return cli_fail(status, &why);
    status = batch_run(b, &rig, s, &sum, tell, NULL, &why);
    tc_rig_clear(&rig);
    bool worked = status == TC_OK || status == TC_ERR_STOPPED;
    if (worked && !quiet) print_totals(b, &sum);
    if (status != TC_OK) return cli_fail(status, &why);
    return sum.failed || sum.refused || sum.findings ? EXIT_FINDINGS : EXIT_DONE;
}

static int run(const struct command *self, int argc, char **argv)
{
    struct batch b = { .preview = true };
    int64_t jobs = (int64_t)pool_processors();
    bool quiet = false, bare = false;
    const struct option_row options[] = {
        { "out", OPTION_TEXT, &b.out_dir, 0, 0, "DIR",
          "put the files there (made if missing); folders below are mirrored" },
        { "jobs", OPTION_WHOLE, &jobs, 1, POOL_JOBS_MOST, "N",
          "clips at once (default: as many as there are processors)" },
        { "recursive", OPTION_FLAG, &b.recursive, 0, 0, NULL, "look into the folders below too" },
        ROW_RIG(&b.rig_path),
        { "no-preview", OPTION_FLAG, &bare, 0, 0, NULL, "no pages, which take most of the time" },
        { "force", OPTION_FLAG, &b.force, 0, 0, NULL, "do all clips again and overwrite what thundercue wrote" },
        { "discard-edits", OPTION_FLAG, &b.discard_edits, 0, 0, NULL,
          "the same, and overwrite files that were edited since too" },
        { "quiet", OPTION_FLAG, &quiet, 0, 0, NULL, "don't print the summary at the end" },
        { 0 },
    };
    struct cli cli;
    if (!cli_parse(&cli, self, options, argc, argv)) return cli.exit;
    int exit;
    if (cli.argument_count != 1) exit = cli_usage(self, "give one folder of recordings");
    else if (!*cli.arguments[0]) exit = cli_usage(self, "the folder has no name; '.' is this one");
    else if (!b.out_dir || !*b.out_dir) exit = cli_usage(self, "say where the timelines go: --out DIR");
    else {
        b.folder = cli.arguments[0];
        b.jobs = (size_t)jobs;
        b.inputs = &cli.inputs;
        b.preview = !bare;
        exit = run_batch(&b, &cli.settings, quiet);
    }
    cli_done(&cli);
    return exit;
}

const struct command command_batch = {
    "batch", "FOLDER", "Turn a folder of recordings into timelines, several at once", run, SETTING_ALL, NULL,
};
