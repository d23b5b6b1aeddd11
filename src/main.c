#include <stdio.h>
#include <string.h>

#include "commands.h"
#include "progress.h"
#include "settings.h"
#include "status.h"
#include "text.h"

static const struct command *const commands[] = {
    &command_cue,
    &command_listen,
    &command_batch,
    &command_tune,
    &command_check,
    &command_rig,
};

enum { COMMANDS = sizeof commands / sizeof *commands };

static int print_help(FILE *out)
{
    fputs("thundercue turns a thunder recording into a flash timeline for a dimmer rig.\n\n"
          "Usage: thundercue COMMAND [OPTION...] ...\n\n", out);
    for (size_t i = 0; i < COMMANDS; i++)
        fprintf(out, "  %-7s %-18s %s\n", commands[i]->name, commands[i]->arguments, commands[i]->summary);
    fputs("\nthundercue COMMAND --help lists a command's options; --version tells the version.\n"
          "Start with: thundercue cue thunder.wav\n", out);
    return EXIT_DONE;
}

int main(int argc, char **argv)
{
    stop_watch();
    const char *word = argc > 1 ? argv[1] : "";
    if (!strcmp(word, "--help") || !strcmp(word, "help")) return cli_end(print_help(stdout));
    if (!strcmp(word, "--version")) {
        puts("thundercue " TC_VERSION);
        return cli_end(EXIT_DONE);
    }
    if (!strcmp(word, "--options")) { /* for `make readme` */
        settings_markdown(stdout);
        return cli_end(EXIT_DONE);
    }
    for (size_t i = 0; i < COMMANDS; i++)
        if (!strcmp(word, commands[i]->name)) return cli_end(commands[i]->run(commands[i], argc - 2, argv + 2));
    char plain[80];
    if (!*word) print_help(stderr);
    else fprintf(stderr, "thundercue: there is no command '%s' (see thundercue --help)\n",
                 text_plain(plain, sizeof plain, word));
    return EXIT_USAGE;
}
