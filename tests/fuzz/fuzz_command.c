/* A command line, one argument a line. Only parsed, never run. */
#include <stdlib.h>
#include <string.h>

#include "app/commands/cli.h"
#include "fuzz.h"
#include "words/settings.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static const struct command command = { "cue", "RECORDING", "Turn a recording into a timeline", NULL, SETTING_ALL,
                                            NULL };
    bool force = false;
    const char *out = NULL;
    int64_t jobs = 1;
    const struct option_row options[] = {
        { "force", OPTION_FLAG, &force, 0, 0, NULL, "overwrite" },
        { "out", OPTION_TEXT, &out, 0, 0, "DIR", "where to" },
        { "jobs", OPTION_WHOLE, &jobs, 1, 64, "N", "how many" },
        { 0 },
    };
    enum { ARGUMENTS_MOST = 64 };
    char *text = calloc(1, size + 1), *argv[ARGUMENTS_MOST + 1], *rest = NULL;
    int argc = 0;
    FUZZ_CHECK(text);
    if (size) memcpy(text, data, size);
    for (char *word = strtok_r(text, "\n", &rest); word && argc < ARGUMENTS_MOST; word = strtok_r(NULL, "\n", &rest))
        if (strncmp(word, "--settings", 10)) argv[argc++] = word; /* would read any file of the machine */
    argv[argc] = NULL;
    struct cli cli;
    if (cli_parse(&cli, &command, options, argc, argv)) {
        FUZZ_CHECK(jobs >= 1 && jobs <= 64);
        FUZZ_CHECK(cli.argument_count <= (size_t)argc);
        FUZZ_CHECK(tc_settings_check(&cli.settings, NULL) == TC_OK);
        cli_done(&cli);
    } else {
        FUZZ_CHECK(cli.exit == EXIT_DONE || cli.exit == EXIT_USAGE);
    }
    free(text);
    return 0;
}
