/* thundercue night: an evening of storms from a folder of recordings. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "app/clip/report.h"
#include "app/commands/commands.h"
#include "app/night/night.h"
#include "app/night/night_report.h"
#include "io/files/outfile.h"
#include "io/process/pool.h"
#include "io/process/time_of_day.h"
#include "words/numbers.h"
#include "words/settings.h"

enum { GAP_LEAST_S = -60, GAP_MOST_S = 3600, LUFS_LEAST = -60, LUFS_MOST = -10,
       UNDER_LEAST = -60, UNDER_MOST = 6, UNDER_DIP_MOST = 60 };

#define GAP_USUAL "20..180"
enum { RANGE_ROOM = 32 };

/* The options as they were typed. */
struct typed {
    const char *length, *start, *end, *gap, *quiet_hours, *format;
    int64_t under_level, under_dip, bits; /* or UNSAID */
};
#define UNSAID INT64_MIN

static bool read_gap(const char *range, struct night_wish *wish)
{
    char first[RANGE_ROOM], second[RANGE_ROOM];
    double least, most;
    if (!night_range_read(range, first, second, RANGE_ROOM)) return false;
    if (!number_read(first, &least) || !number_read(second, &most)) return false;
    if (least < GAP_LEAST_S || most < least || most > GAP_MOST_S) return false;
    wish->gap_least_ms = llround(1000 * least);
    wish->gap_most_ms = llround(1000 * most);
    return true;
}

/* Times of day where the evening has one, else times from its start. */
static int64_t read_moment(const char *text, int start_day_s)
{
    if (start_day_s == NIGHT_NO_DAY) return night_length_read(text);
    int day_s = time_of_day_read(text);
    return day_s < 0 ? -1 : night_after(day_s, start_day_s);
}

static bool read_quiet(const char *range, int start_day_s, struct night_wish *wish)
{
    char first[RANGE_ROOM], second[RANGE_ROOM];
    if (!night_range_read(range, first, second, RANGE_ROOM)) return false;
    wish->quiet_from_ms = read_moment(first, start_day_s);
    wish->quiet_to_ms = read_moment(second, start_day_s);
    return wish->quiet_from_ms >= 0 && wish->quiet_to_ms > wish->quiet_from_ms;
}

static int read_form(const struct command *self, const char *word, enum joined_form *form)
{
    for (int i = 0; i < JOINED_FORMS; i++)
        if (!strcmp(word, joined_endings[i])) {
            *form = (enum joined_form)i;
            return EXIT_DONE;
        }
    return cli_usage(self, "--sound-format: '%s' is none of flac, wav and ogg", word);
}

static int check_bits(const struct command *self, int64_t bits, struct night_job *job)
{
    job->bits = bits == UNSAID ? JOINED_BITS_USUAL : (int)bits;
    if (job->bits != 16 && job->bits != 24) return cli_usage(self, "--sound-bits: 16 or 24, not %d", job->bits);
    if (bits != UNSAID && job->form == JOINED_OGG)
        return cli_usage(self, "--sound-bits is for flac and wav: ogg has none");
    return EXIT_DONE;
}

/* How long the evening is, and when it starts. */
static int check_length(const struct command *self, const struct typed *t, struct night_job *job)
{
    int end_day_s = t->end ? time_of_day_read(t->end) : 0;
    job->day_s = t->start ? time_of_day_read(t->start) : NIGHT_NO_DAY;
    if (t->start && job->day_s < 0) return cli_usage(self, "--start: '%s' is not a time of day like 19:30", t->start);
    if (end_day_s < 0) return cli_usage(self, "--end: '%s' is not a time of day like 23:30", t->end);
    if (job->order) return EXIT_DONE;
    if (t->end && !t->start) return cli_usage(self, "--end needs --start: from when to when the evening is");
    if (t->end && t->length)
        return cli_usage(self, "--end and --length both say how long the evening is: leave out one");
    if (!t->end && !t->length)
        return cli_usage(self, "say how long the evening is with --length H:MM:SS, or with --start and --end");
    if (t->end && end_day_s == job->day_s) return cli_usage(self, "--start and --end are the same time of day");
    job->wish.length_ms = t->end ? night_after(end_day_s, job->day_s) : night_length_read(t->length);
    if (job->wish.length_ms > 0) return EXIT_DONE;
    return cli_usage(self, "--length: '%s' is not a time like 4:00:00 (hours, minutes, seconds), up to 24 hours",
                     t->length);
}

/* When no clip sounds. */
static int check_quiet(const struct command *self, const struct typed *t, struct night_job *job)
{
    if (!t->quiet_hours) return EXIT_DONE;
    if (!read_quiet(t->quiet_hours, job->day_s, &job->wish))
        return job->day_s == NIGHT_NO_DAY
            ? cli_usage(self,
                        "--quiet-hours: '%s' is not two times from the start of the evening like 1:00:00..1:20:00",
                        t->quiet_hours)
            : cli_usage(self, "--quiet-hours: '%s' is not two times of day within the evening like 21:00..21:20",
                        t->quiet_hours);
    if (job->wish.quiet_to_ms <= job->wish.length_ms) return EXIT_DONE;
    return cli_usage(self, "--quiet-hours: '%s' ends after the evening does", t->quiet_hours);
}

/* How the track beneath plays. */
static int check_under(const struct command *self, const struct typed *t, struct night_job *job)
{
    const struct {
        const char *name;
        bool said;
    } about[] = {
        { "level", t->under_level != UNSAID },
        { "dip", t->under_dip != UNSAID },
        { "once", job->under_once },
    };
    for (size_t i = 0; i < sizeof about / sizeof *about; i++)
        if (about[i].said && !job->under) return cli_usage(self, "--under-%s needs --under FILE", about[i].name);
    job->under_level = t->under_level != UNSAID ? t->under_level : NIGHT_UNDER_LEVEL_USUAL;
    job->under_dip = t->under_dip != UNSAID ? t->under_dip : NIGHT_UNDER_DIP_USUAL;
    return EXIT_DONE;
}

/* Those of the evening's files are added to the name. */
static bool has_ending(const char *name)
{
    size_t n = strlen(name);
    for (int i = 0; i < JOINED_FORMS; i++) {
        size_t m = strlen(joined_endings[i]);
        if (n > m && name[n - m - 1] == '.' && !strcasecmp(name + n - m, joined_endings[i])) return true;
    }
    return false;
}

static int check(const struct command *self, const struct cli *cli, const struct typed *t, struct night_job *job)
{
    if (cli->argument_count != 1) return cli_usage(self, "give one folder of recordings");
    if (!job->out || !*job->out || job->out[strlen(job->out) - 1] == '/')
        return cli_usage(self, "say what the files are to be called: --out NAME");
    if (has_ending(job->out))
        return cli_usage(self, "--out: '%s' has an ending already: give the name alone, as in --out evening", job->out);
    if (job->order && (t->length || t->end || t->gap || t->quiet_hours || job->opening || job->closing))
        return cli_usage(self,
                         "--order says who plays when: leave out --length, --end, --gap, "
                         "--quiet-hours, --opening and --closing");
    int exit = check_length(self, t, job);
    if (exit == EXIT_DONE) exit = check_quiet(self, t, job);
    if (exit == EXIT_DONE) exit = check_under(self, t, job);
    if (exit != EXIT_DONE) return exit;
    if (!read_gap(t->gap ? t->gap : GAP_USUAL, &job->wish))
        return cli_usage(self,
                         "--gap: '%s' is not two numbers of seconds like 20..180, the smaller one first, from %d to %d",
                         t->gap, GAP_LEAST_S, GAP_MOST_S);
    if (cli->settings.loop && job->opening && job->closing && !strcmp(job->opening, job->closing))
        return cli_usage(self, "--opening and --closing are one file: with --loop it would play twice in a row");
    exit = read_form(self, t->format, &job->form);
    return exit == EXIT_DONE ? check_bits(self, t->bits, job) : exit;
}

static char *folder_of(const char *name)
{
    const char *slash = strrchr(name, '/');
    return slash ? strndup(name, (size_t)(slash - name) + 1) : strdup(".");
}

static void tell_left_out(const struct night_outcome *o)
{
    for (size_t i = 0; i < o->recording_count; i++)
        if (o->recordings[i].status != TC_OK) fprintf(stderr, "thundercue: left out %s\n", o->recordings[i].note.text);
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
    if (status == TC_OK && quiet) tell_left_out(&out); /* it is why the exit status says so */
    if (status == TC_OK && (out.left_out || report_findings(&rig, &out.light))) exit = EXIT_FINDINGS;
    night_clear(&out);
    tc_rig_clear(&rig);
    return status == TC_OK ? exit : cli_fail(status, &why);
}

static int run(const struct command *self, int argc, char **argv)
{
    struct night_job job = { .lufs = NIGHT_LUFS_USUAL };
    struct typed typed = { .format = joined_endings[JOINED_FLAC], .under_level = UNSAID, .under_dip = UNSAID,
                           .bits = UNSAID };
    bool quiet = false, force = false, discard = false, no_preview = false;
    const struct option_row options[] = {
        { "length", OPTION_TEXT, &typed.length, 0, 0, "H:MM:SS", "how long the evening is" },
        { "start", OPTION_TEXT, &typed.start, 0, 0, "H:MM", "the time of day at which it starts" },
        { "end", OPTION_TEXT, &typed.end, 0, 0, "H:MM", "the time of day at which it ends, in place of --length" },
        { "gap", OPTION_TEXT, &typed.gap, 0, 0, "A..B",
          "silence between clips, drawn between these seconds (default " GAP_USUAL "); below 0 they overlap" },
        { "out", OPTION_TEXT, &job.out, 0, 0, "NAME", "write NAME.flac, NAME.frames.csv and so on" },
        { "opening", OPTION_TEXT, &job.opening, 0, 0, "FILE",
          "the recording of the folder that plays first, and only then" },
        { "closing", OPTION_TEXT, &job.closing, 0, 0, "FILE", "the one that plays last, and only then" },
        { "quiet-hours", OPTION_TEXT, &typed.quiet_hours, 0, 0, "FROM..TO",
          "no clip between these times of day, 21:00..21:20; without --start from the beginning, 1:00:00..1:20:00" },
        { "events", OPTION_INPUT, &job.events, 0, 0, "FOLDER",
          "take events that you edited from here too (from batch --out), not only beside the clips" },
        { "order", OPTION_INPUT, &job.order, 0, 0, "FILE", "build from this (edited) running order, a NAME.night.csv" },
        { "loudness", OPTION_WHOLE, &job.lufs, LUFS_LEAST, LUFS_MOST, "LUFS",
          "set all clips to this loudness by BS.1770 (default " IN_HELP(NIGHT_LUFS_USUAL) ")" },
        { "under", OPTION_INPUT, &job.under, 0, 0, "FILE",
          "music or narration beneath it all, lower while thunder sounds, without light" },
        { "under-level", OPTION_WHOLE, &typed.under_level, UNDER_LEAST, UNDER_MOST, "DB",
          "how loud it is against the clips (default " IN_HELP(NIGHT_UNDER_LEVEL_USUAL) ")" },
        { "under-dip", OPTION_WHOLE, &typed.under_dip, 0, UNDER_DIP_MOST, "DB",
          "how much lower while thunder sounds (default " IN_HELP(NIGHT_UNDER_DIP_USUAL) ")" },
        { "under-once", OPTION_FLAG, &job.under_once, 0, 0, NULL, "don't begin it again where it ends" },
        { "sound-format", OPTION_TEXT, &typed.format, 0, 0, "flac|wav|ogg",
          "how the sound is kept (default flac; ogg is Vorbis, small but not lossless)" },
        { "sound-bits", OPTION_WHOLE, &typed.bits, 16, 24, "16|24",
          "how finely the samples of flac and wav are kept (default " IN_HELP(JOINED_BITS_USUAL) ", with dither)" },
        ROW_RIG(&job.rig_path),
        ROW_JSON(&job.json),
        { "no-preview", OPTION_FLAG, &no_preview, 0, 0, NULL, "leave out the page NAME.preview.html" },
        ROW_FORCE(&force),
        ROW_DISCARD(&discard),
        ROW_QUIET(&quiet),
        { 0 },
    };
    struct cli cli;
    if (!cli_parse(&cli, self, options, argc, argv)) return cli.exit;
    int exit = check(self, &cli, &typed, &job);
    if (exit == EXIT_DONE) {
        const struct tc_settings presets = tc_settings_default(); /* parts of a recording mean nothing here */
        cli.settings.from_s = presets.from_s;
        cli.settings.to_s = presets.to_s;
        cli.settings.shift_s = presets.shift_s;
        job.folder = cli.arguments[0];
        job.inputs = &cli.inputs;
        job.preview = !no_preview;
        if (job.json && !strcmp(job.json, "-")) quiet = true; /* standard output is for the machine */
        job.jobs = pool_processors();
        job.over = discard ? OVER_EDITS : force ? OVER_OURS : OVER_NOTHING;
        exit = build(&cli, &job, cli.seed_given, quiet);
    }
    cli_done(&cli);
    return exit;
}

const struct command command_night = {
    "night", "FOLDER", "Build an evening of storms from a folder of recordings: one sound, one timeline", run,
    SETTING_ALL & ~SETTING_TIMES, NULL,
};
