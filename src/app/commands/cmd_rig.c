/* thundercue rig: the hookup sheet and the sums of a rig, and files to start from. */
#include <stdio.h>
#include <string.h>

#include "app/commands/commands.h"
#include "app/report/cautions.h"
#include "app/sheet/rig_sheet.h"
#include "app/sheet/rig_sums.h"
#include "io/files/stream.h"
#include "rig/rig_new.h"
#include "words/text.h"

/* What the command line asks for. */
struct typed {
    const char *format;
    bool example, new_rig, notice;
    int64_t branches, floods, channels; /* -1 = not given */
};

static void print_finding(void *user, const struct rig_finding *finding)
{
    (void)user;
    fprintf(stderr, "thundercue: finding: %s\n", finding->text);
}

/* How a rig is printed. */
enum form { FORM_TEXT, FORM_CSV, FORM_RIG, FORM_COUNT };
static const char *const forms[FORM_COUNT] = { "text", "csv", "rig" };

/* FORM_COUNT if there is no such form. */
static enum form form_find(const char *name)
{
    enum form form = FORM_TEXT;
    while (name && form < FORM_COUNT && strcmp(forms[form], name) != 0) form++;
    return form;
}

static int print_rig(const char *path, enum form form)
{
    struct tc_rig rig = { 0 };
    struct tc_problem why = { "" };
    enum tc_status status = cli_rig(path, &rig, &why);
    if (status != TC_OK) return cli_fail(status, &why);
    size_t findings;
    bool csv = form == FORM_CSV;
    if (form == FORM_RIG) {
        status = tc_rig_write(&rig, stream_sink(stdout), &why);
        tc_rig_clear(&rig);
        if (status == TC_OK || status == TC_ERR_WRITE) return EXIT_DONE; /* writing is told of at the end */
        return cli_fail(status, &why);
    }
    if (csv) {
        rig_sheet_csv(stdout, &rig);
        findings = rig_findings(&rig, print_finding, NULL);
    } else {
        findings = rig_sheet_text(stdout, &rig);
    }
    tc_rig_clear(&rig);
    return findings ? EXIT_FINDINGS : EXIT_DONE;
}

/* Where lamps weren't counted, as many as the built-in rig has. */
static enum tc_status plan_usual(const struct typed *t, struct rig_plan *plan, struct tc_problem *why)
{
    struct tc_rig rig = { 0 };
    enum tc_status status = cli_rig(NULL, &rig, why);
    for (size_t c = 0; c < rig.channel_count; c++) {
        if (rig.channels[c].kind == TC_FLOOD) plan->floods += t->floods < 0;
        else plan->branches += t->branches < 0;
    }
    tc_rig_clear(&rig);
    return status;
}

static int print_new(const struct typed *t)
{
    struct tc_problem why = { "" };
    struct rig_plan plan = {
        .branches = t->branches < 0 ? 0 : (int)t->branches,
        .floods = t->floods < 0 ? 0 : (int)t->floods,
        .channels = t->channels < 0 ? 0 : (int)t->channels,
    };
    enum tc_status status = plan_usual(t, &plan, &why);
    if (status == TC_OK) status = rig_new_write(stream_sink(stdout), &plan, &why);
    return status == TC_OK ? EXIT_DONE : cli_fail(status, &why);
}

/* The one thing that goes wrong first, or EXIT_DONE. */
static int check_typed(const struct command *self, const struct typed *t, const struct cli *cli)
{
    bool plan = t->branches >= 0 || t->floods >= 0 || t->channels >= 0;
    int made = t->example + t->new_rig + t->notice;
    char plain[80];
    if (made > 1) return cli_usage(self, "give one of --example, --new and --notice");
    if (made && t->format)
        return cli_usage(self, "--format is for the sheet of a rig, not for --example, --new or --notice");
    if (made && cli->argument_count) return cli_usage(self, "--example, --new and --notice take no rig file");
    if (plan && !t->new_rig) return cli_usage(self, "--branches, --floods and --channels go with --new");
    if (cli->argument_count > 1) return cli_usage(self, "give one rig file, or none for the built-in rig");
    if (form_find(t->format) == FORM_COUNT)
        return cli_usage(self, "--format: '%s' is not text, csv or rig",
                         text_plain(plain, sizeof plain, t->format));
    return EXIT_DONE;
}

static int run(const struct command *self, int argc, char **argv)
{
    struct typed typed = { .branches = -1, .floods = -1, .channels = -1 };
    const struct option_row options[] = {
        { "format", OPTION_TEXT, &typed.format, 0, 0, "text|csv|rig",
          "print the sheet for people (default), for a spreadsheet, or the rig as a rig file without comments" },
        { "example", OPTION_FLAG, &typed.example, 0, 0, NULL, "print a commented rig file that shows every key" },
        { "new", OPTION_FLAG, &typed.new_rig, 0, 0, NULL,
          "print a commented rig file for your number of lamps (--branches, --floods; "
          "what is left out is as in the built-in rig)" },
        { "branches", OPTION_WHOLE, &typed.branches, 0, RIG_PLAN_MOST, "N",
          "with --new: light strings along the bolt" },
        { "floods", OPTION_WHOLE, &typed.floods, 0, RIG_PLAN_MOST, "M", "with --new: floods" },
        { "channels", OPTION_WHOLE, &typed.channels, 1, TC_MAX_CHANNELS, "C",
          "with --new: channels of the dimmer; with fewer than lamps, some share" },
        { "notice", OPTION_FLAG, &typed.notice, 0, 0, NULL,
          "print a notice about flashing light, to put up for visitors" },
        { 0 },
    };
    struct cli cli;
    if (!cli_parse(&cli, self, options, argc, argv)) return cli.exit;
    int exit = check_typed(self, &typed, &cli);
    if (exit == EXIT_DONE && typed.example) rig_new_example(stream_sink(stdout));
    else if (exit == EXIT_DONE && typed.notice) fputs(visitor_notice(), stdout);
    else if (exit == EXIT_DONE && typed.new_rig) exit = print_new(&typed);
    else if (exit == EXIT_DONE)
        exit = print_rig(cli.argument_count ? cli.arguments[0] : NULL, form_find(typed.format));
    cli_done(&cli);
    return exit;
}

const struct command command_rig = {
    "rig", "[FILE]", "Print the hookup sheet and the load budget of a rig, or a rig file to start from", run, 0, NULL,
};
