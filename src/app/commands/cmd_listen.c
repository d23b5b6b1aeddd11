/* thundercue listen: what is heard, and nothing else. */
#include <stdio.h>
#include <string.h>

#include "app/clip/listen_file.h"
#include "app/commands/commands.h"
#include "io/files/stream.h"
#include "words/settings.h"

static void print_table(const struct tc_analysis *a)
{
    printf("%-7s %10s %10s %9s %10s %7s\n", "kind", "start s", "end s", "strength", "sharpness", "dBFS");
    for (size_t i = 0; i < a->event_count; i++) {
        const struct tc_event *e = &a->events[i];
        char end[24] = "";
        if (e->kind == TC_RUMBLE) snprintf(end, sizeof end, "%.3f", (double)e->end_ms / 1000);
        printf("%-7s %10.3f %10s %9.2f %10.2f %7.1f\n", e->kind == TC_CRACK ? "crack" : "rumble",
               (double)e->start_ms / 1000, end, (double)e->strength, (double)e->sharpness,
               (double)e->level_dbfs);
    }
    if (!a->event_count)
        puts(a->candidate_count ? "(nothing heard; a higher --sensitivity finds more)" : "(nothing heard at any --sensitivity)");
}

static int run(const struct command *self, int argc, char **argv)
{
    const char *format = "table";
    const struct option_row options[] = {
        { "format", OPTION_TEXT, &format, 0, 0, "table|csv", "how to print the events" },
        { 0 },
    };
    struct cli cli;
    if (!cli_parse(&cli, self, options, argc, argv)) return cli.exit;
    int exit = EXIT_DONE;
    bool csv = !strcmp(format, "csv");
    if (cli.argument_count != 1) exit = cli_usage(self, "give one recording ('-' is standard input)");
    else if (!csv && strcmp(format, "table")) exit = cli_usage(self, "--format: '%s' is not table or csv", format);

    struct tc_analysis heard = { 0 };
    struct tc_problem why = { "" }, remark = { "" };
    if (exit == EXIT_DONE) {
        enum tc_status status = listen_file(cli.arguments[0], &cli.settings, &heard, &remark, &why);
        if (status != TC_OK) exit = cli_fail(status, &why);
        else if (csv) tc_events_write(&heard, stream_sink(stdout), NULL);
        else print_table(&heard);
        if (status == TC_OK && *remark.text) fprintf(stderr, "thundercue: note: %s\n", remark.text);
    }
    tc_analysis_clear(&heard);
    cli_done(&cli);
    return exit;
}

const struct command command_listen = {
    "listen", "RECORDING", "Print the cracks and rumbles that are heard in a recording", run,
    SETTING_HEARING | SETTING_FRAMES, NULL,
};
