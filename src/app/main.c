/* The program: finds the command that is asked for and lets it run. */
#include <stdio.h>
#include <string.h>

#include "app/commands/commands.h"
#include "app/commands/manual.h"
#include "app/commands/settings_help.h"
#include "io/process/standard.h"
#include "io/process/stop.h"
#include "words/settings.h"
#include "words/status.h"
#include "words/text.h"

static const struct command *const commands[] = {
    &command_cue,
    &command_listen,
    &command_batch,
    &command_tune,
    &command_check,
    &command_rig,
    &command_night,
    &command_play,
    &command_light,
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

static void print_version(void)
{
    puts("thundercue " TC_VERSION);
}

static void print_man(void)
{
    manual_man(commands, COMMANDS);
}

static void print_completion(void)
{
    manual_completion(commands, COMMANDS);
}

static void print_options(void)
{
    settings_markdown(stdout);
}

/* What the Makefile takes from the program itself, and the version. */
static const struct {
    const char *word;
    void (*print)(void);
} made[] = {
    { "--version", print_version },
    { "--man", print_man },                 /* make install */
    { "--completion", print_completion },   /* make install, for bash */
    { "--options", print_options },         /* make readme */
};

int main(int argc, char **argv)
{
    standard_claim();
    stop_watch();
    const char *word = argc > 1 ? argv[1] : "";
    if (!strcmp(word, "--help") || !strcmp(word, "help")) return cli_end(print_help(stdout));
    for (size_t i = 0; i < sizeof made / sizeof *made; i++) {
        if (strcmp(word, made[i].word)) continue;
        made[i].print();
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
