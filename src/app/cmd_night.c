/* thundercue night: an evening of storms from a folder of recordings. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/commands.h"
#include "app/night.h"
#include "app/night_report.h"
#include "app/report.h"
#include "io/outfile.h"
#include "io/pool.h"
#include "words/numbers.h"
#include "words/settings.h"

enum { HOURS_MOST = 24, GAP_LEAST_S = 1, GAP_MOST_S = 3600, LUFS_LEAST = -60, LUFS_MOST = -10, LUFS_USUAL = -23 };

/* "4:00:00" in milliseconds; -1 if it is none. */
static int64_t read_clock(const char *text, size_t size)
{
    int64_t part[3] = { 0 };
    size_t at = 0;
    for (int i = 0; i < 3; i++) {
        size_t from = at;
        while (at < size && text[at] >= '0' && text[at] <= '9' && at < from + 2) part[i] = 10 * part[i] + (text[at++] - '0');
        if (at == from || (i > 0 && (at != from + 2 || part[i] > 59))) return -1;
        if (i < 2 && (at == size || text[at++] != ':')) return -1;
    }
    int64_t s = 3600 * part[0] + 60 * part[1] + part[2];
    return at == size && s <= 3600 * HOURS_MOST ? 1000 * s : -1;
}

/* "FROM..TO" cut in two; NULL if it is none. */
static const char *second_of(const char *range)
{
    const char *dots = strstr(range, "..");
    return dots ? dots + 2 : NULL;
}

static bool read_gap(const char *range, struct night_wish *wish)
{
    char first[32];
    const char *second = second_of(range);
    double least, most;
    if (!second) return false;
    snprintf(first, sizeof first, "%.*s", (int)(second - 2 - range), range);
    if (!number_read(first, &least) || !number_read(second, &most)) return false;
    if (least < GAP_LEAST_S || most < least || most > GAP_MOST_S) return false;
    wish->gap_least_ms = (int64_t)(1000 * least + 0.5);
    wish->gap_most_ms = (int64_t)(1000 * most + 0.5);
    return true;
}

static bool read_quiet(const char *range, struct night_wish *wish)
{
    const char *second = second_of(range);
    if (!second) return false;
    wish->quiet_from_ms = read_clock(range, (size_t)(second - 2 - range));
    wish->quiet_to_ms = read_clock(second, strlen(second));
    return wish->quiet_from_ms >= 0 && wish->quiet_to_ms > wish->quiet_from_ms;
}

static int read_form(const struct command *self, const char *word, enum joined_form *form)
{
    *form = word && !strcmp(word, "wav") ? JOINED_WAV : JOINED_FLAC;
    if (!word || !strcmp(word, "wav") || !strcmp(word, "flac")) return EXIT_DONE;
    return cli_usage(self, "--sound-format: '%s' is neither flac nor wav", word);
}

/* The options as they were typed. */
struct typed {
    const char *length, *gap, *quiet_hours, *format;
};

static int check(const struct command *self, const struct cli *cli, const struct typed *t, struct night_job *job)
{
    if (cli->argument_count != 1) return cli_usage(self, "give one folder of recordings");
    if (!job->out || !*job->out || job->out[strlen(job->out) - 1] == '/')
        return cli_usage(self, "say with --out NAME how the files shall be called");
    if (!job->order && !t->length) return cli_usage(self, "say with --length H:MM:SS how long the evening is, or give --order FILE");
    if (job->order && (t->length || t->quiet_hours || job->opening || job->closing))
        return cli_usage(self, "--order says who plays when: leave out --length, --quiet-hours, --opening and --closing");
    if (t->length && (job->wish.length_ms = read_clock(t->length, strlen(t->length))) <= 0)
        return cli_usage(self, "--length: '%s' is not a time like 4:00:00, up to 24 hours", t->length);
    if (!read_gap(t->gap, &job->wish))
        return cli_usage(self, "--gap: '%s' is not two numbers of seconds like 20..180, from %d to %d", t->gap, GAP_LEAST_S, GAP_MOST_S);
    if (t->quiet_hours && !read_quiet(t->quiet_hours, &job->wish))
        return cli_usage(self, "--quiet-hours: '%s' is not two times of the evening like 1:00:00..1:20:00", t->quiet_hours);
    if (cli->settings.loop && job->opening && job->closing && !strcmp(job->opening, job->closing))
        return cli_usage(self, "--opening and --closing are one file: with --loop it would play twice in a row");
    return read_form(self, t->format, &job->form);
}

static bool gives_seed(int argc, char **argv)
{
    for (int i = 0; i < argc; i++)
        if (!strcmp(argv[i], "--seed") || !strncmp(argv[i], "--seed=", 7)) return true;
    return false;
}

static char *folder_of(const char *name)
{
    const char *slash = strrchr(name, '/');
    return slash ? strndup(name, (size_t)(slash - name) + 1) : strdup(".");
}

static int build(struct cli *cli, struct night_job *job, bool own_seed, bool quiet)
{
    struct tc_rig rig = { 0 };
    struct tc_problem why = { "" };
    struct night_outcome out = { 0 };
    int exit = EXIT_DONE;
    enum tc_status status = cli_rig(job->rig_path, &rig, &why);
    if (status != TC_OK) return cli_fail(status, &why);
    char *folder = folder_of(job->out);
    if (folder) outfile_sweep(folder);
    free(folder);
    status = night_run(job, &rig, &cli->settings, own_seed, &out, &why);
    if (status == TC_OK && !quiet) night_report(stdout, job, &rig, &cli->settings, &out);
    if (status == TC_OK && (out.left_out || report_findings(&rig, &out.light))) exit = EXIT_FINDINGS;
    night_clear(&out);
    tc_rig_clear(&rig);
    return status == TC_OK ? exit : cli_fail(status, &why);
}

static int run(const struct command *self, int argc, char **argv)
{
    struct night_job job = { .lufs = LUFS_USUAL };
    struct typed typed = { .gap = "20..180" };
    bool quiet = false, force = false, discard = false, no_preview = false;
    const struct option_row options[] = {
        { "length", OPTION_TEXT, &typed.length, 0, 0, "H:MM:SS", "how long the evening is" },
        { "gap", OPTION_TEXT, &typed.gap, 0, 0, "A..B", "silence between clips, drawn between these seconds (default 20..180)" },
        { "out", OPTION_TEXT, &job.out, 0, 0, "NAME", "write NAME.flac, NAME.frames.csv and so on" },
        { "opening", OPTION_TEXT, &job.opening, 0, 0, "FILE", "the recording of the folder that plays first, and only then" },
        { "closing", OPTION_TEXT, &job.closing, 0, 0, "FILE", "the one that plays last, and only then" },
        { "quiet-hours", OPTION_TEXT, &typed.quiet_hours, 0, 0, "FROM..TO", "no clip between these times of the evening: 1:00:00..1:20:00" },
        { "order", OPTION_INPUT, &job.order, 0, 0, "FILE", "build from this (edited) running order, a NAME.night.csv" },
        { "loudness", OPTION_WHOLE, &job.lufs, LUFS_LEAST, LUFS_MOST, "LUFS", "set all clips to this loudness by BS.1770 (default -23)" },
        { "sound-format", OPTION_TEXT, &typed.format, 0, 0, "flac|wav", "how the sound is kept (default flac)" },
        { "rig", OPTION_INPUT, &job.rig_path, 0, 0, "FILE", "the rig; without it a built-in one of 12 branches, 4 floods" },
        { "no-preview", OPTION_FLAG, &no_preview, 0, 0, NULL, "leave out the page NAME.preview.html" },
        { "force", OPTION_FLAG, &force, 0, 0, NULL, "overwrite what thundercue wrote, but not what was edited since" },
        { "discard-edits", OPTION_FLAG, &discard, 0, 0, NULL, "overwrite files that were edited too" },
        { "quiet", OPTION_FLAG, &quiet, 0, 0, NULL, "no report" },
        { 0 },
    };
    struct cli cli;
    if (!cli_parse(&cli, self, options, argc, argv)) return cli.exit;
    int exit = check(self, &cli, &typed, &job);
    if (exit == EXIT_DONE) {
        job.folder = cli.arguments[0];
        job.inputs = &cli.inputs;
        job.preview = !no_preview;
        job.jobs = pool_processors();
        job.over = discard ? OVER_EDITS : force ? OVER_OURS : OVER_NOTHING;
        exit = build(&cli, &job, gives_seed(argc, argv), quiet);
    }
    cli_done(&cli);
    return exit;
}

const struct command command_night = {
    "night", "FOLDER", "Build an evening of storms from a folder of recordings: one sound, one timeline", run, SETTING_ALL, NULL,
};
