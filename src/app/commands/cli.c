#include "app/commands/cli.h"

#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/commands/settings_help.h"
#include "app/report/cautions.h"
#include "io/files/read_form.h"
#include "io/process/stop.h"
#include "io/sound/sound_kind.h"
#include "words/numbers.h"
#include "words/settings.h"
#include "words/status.h"
#include "words/text.h"

/* A setting that the command line gave, applied after the settings file. */
struct given {
    const char *name, *value;
};

struct parse {
    struct cli *cli;
    const struct command *command;
    const struct option_row *options;
    struct given *given;
    size_t given_count;
    void (*list)(const struct parse *p); /* asked for */
};

/* Below anything that a seed can be: if it is still there in the end, none was given. */
enum { NO_SEED = -1 };

static bool takes(const struct command *command, const struct setting *row)
{
    return (command->settings & row->use) != 0;
}

/* ---- Help ---- */

static void print_help(const struct parse *p)
{
    const struct command *command = p->command;
    printf("Usage: thundercue %s [OPTION...] %s\n%s.\n\nOptions\n", command->name, command->arguments,
           command->summary);
    for (const struct option_row *o = p->options; o->name; o++) {
        char head[64];
        snprintf(head, sizeof head, "--%s%s%s", o->name, o->value ? " " : "", o->value ? o->value : "");
        help_row(stdout, head, o->help);
    }
    if (command->settings) help_row(stdout, "--settings FILE", "read settings (name = value lines) before the options");
    help_row(stdout, "--help", "this list");
    for (int topic = 0; topic < TOPIC_COUNT; topic++)
        settings_help(stdout, (enum setting_topic)topic, command->settings);
    if (command->note) printf("\n%s.\n", command->note);
    putchar('\n');
    caution_wrap(stdout, caution_text(CAUTION_FLASHING), "", "", 90);
    caution_wrap(stdout, caution_text(CAUTION_WIRING), "", "", 90);
    puts("Exit status: 0 done; 1 done, with findings; 2 wrong usage or rig file; 3 a recording\n"
         "can't be read; 4 an output can't be written; 5 internal error; 130 or 143 stopped by\n"
         "Ctrl-C or by SIGTERM.");
}

/* "Of the settings it takes: flash-limit, loop", and for most what it doesn't take. */
static void print_taken(const struct command *command)
{
    bool most = (command->settings & SETTING_CUEING) != 0;
    const char *gap = "";
    fputs(most ? "It takes all settings but " : "Of the settings it takes ", stdout);
    for (size_t i = 0; i < setting_count(); i++) {
        if (takes(command, setting_at(i)) == most) continue;
        printf("%s%s", gap, setting_at(i)->name);
        gap = ", ";
    }
    putchar('.');
}

/* For the man page: the command and its own options, as roff source. */
static void print_man(const struct parse *p)
{
    const struct command *command = p->command;
    printf(".SS thundercue %s [\\fIOPTION\\fR...] %s\n%s.\n", command->name, command->arguments,
           command->summary);
    for (const struct option_row *o = p->options; o->name; o++)
        printf(".TP\n\\fB\\-\\-%s\\fR%s%s\n%s.\n", o->name, o->value ? " " : "",
               o->value ? o->value : "", o->help);
    fputs(".PP\n", stdout);
    if (!command->settings) fputs("It takes no settings.", stdout);
    else if (command->settings == SETTING_ALL) fputs("It takes all settings.", stdout);
    else print_taken(command);
    putchar('\n');
    if (command->note) printf("%s.\n", command->note);
}

/* For completion: every option of the command in a line each. */
static void print_words(const struct parse *p)
{
    for (const struct option_row *o = p->options; o->name; o++) printf("--%s\n", o->name);
    for (size_t i = 0; i < setting_count(); i++)
        if (takes(p->command, setting_at(i))) printf("--%s\n", setting_at(i)->name);
    puts(p->command->settings ? "--settings\n--help" : "--help");
}

/* Words that ask for a list of options instead of work. */
static const struct {
    const char *word;
    void (*list)(const struct parse *p);
} listings[] = {
    { "help", print_help },
    { "help-man", print_man },
    { "help-words", print_words },
};

/* ---- Errors ---- */

/* Exit status of the program where a call failed. */
static const int exit_of[TC_STATUS_COUNT] = {
    [TC_OK]           = EXIT_DONE,
    [TC_ERR_USAGE]    = EXIT_USAGE,
    [TC_ERR_RIG]      = EXIT_USAGE,
    [TC_ERR_FORM]     = EXIT_USAGE,
    [TC_ERR_READ]     = EXIT_READ,
    [TC_ERR_WRITE]    = EXIT_WRITE,
    [TC_ERR_EXISTS]   = EXIT_WRITE,
    [TC_ERR_MEMORY]   = EXIT_BROKEN,
    [TC_ERR_STOPPED]  = EXIT_FINDINGS,
    [TC_ERR_INTERNAL] = EXIT_BROKEN,
};
_Static_assert(TC_STATUS_COUNT == 10, "a row for every status");

int cli_fail(enum tc_status status, const struct tc_problem *why)
{
    const char *text = why && *why->text ? why->text : tc_status_text(status);
    fprintf(stderr, "thundercue: %s\n", text);
    return stop_asked() ? EXIT_SIGNALLED + stop_signal() : exit_of[status];
}

int cli_usage(const struct command *command, const char *format, ...)
{
    struct tc_problem why;
    va_list args;
    va_start(args, format);
    vsnprintf(why.text, sizeof why.text, format, args);
    va_end(args);
    fprintf(stderr, "thundercue: %s (see thundercue %s --help)\n", why.text, command->name);
    return EXIT_USAGE;
}

int cli_end(int exit)
{
    if (fflush(stdout) || ferror(stdout)) {
        if (errno == EPIPE) return exit; /* whoever read it has seen enough */
        fprintf(stderr, "thundercue: standard output can't be written: %s\n", strerror(errno));
        return exit > EXIT_FINDINGS ? exit : EXIT_WRITE;
    }
    return exit;
}

/* All that is wrong with a rig file but the last thing, which is left in *why. */
static void tell_problems(const char *path, const struct rig_problems *all, struct tc_problem *why)
{
    size_t kept = all->count < RIG_PROBLEMS_MOST ? all->count : RIG_PROBLEMS_MOST,
        told = kept < all->count ? kept : kept - 1;
    char plain[256];
    for (size_t i = 0; i < told; i++) fprintf(stderr, "thundercue: %s\n", all->at[i].is.text);
    if (told < kept) *why = all->at[told].is;
    else problem_set(why, TC_ERR_RIG, "%s: and %zu more", text_plain(plain, sizeof plain, path), all->count - kept);
}

enum tc_status cli_rig(const char *path, struct tc_rig *out, struct tc_problem *why)
{
    struct rig_problems all;
    char plain[512];
    enum tc_status status = path ? read_rig_all(path, out, &all, why) : tc_rig_builtin(out);
    if (path && status == TC_ERR_RIG && all.count && sound_has_ending(path))
        return problem_set(why, status, "%s: this is a recording, not a rig file",
                           text_plain(plain, sizeof plain, path));
    if (path && status == TC_ERR_RIG && all.count) tell_problems(path, &all, why);
    if (path) return status;
    return status == TC_OK ? status : problem_say(why, status);
}

/* ---- Parsing ---- */

static const struct option_row *find_option(const struct option_row *options, const char *name)
{
    for (const struct option_row *o = options; o->name; o++)
        if (!strcmp(o->name, name)) return o;
    return NULL;
}

/* The option that was probably meant; NULL if none comes near. */
static const char *nearest(const struct parse *p, const char *name)
{
    const char *best = NULL;
    size_t least = 2 + strlen(name) / 3;
    for (const struct option_row *o = p->options; o->name; o++) {
        size_t d = text_farness(name, o->name);
        if (d < least) least = d, best = o->name;
    }
    for (size_t i = 0; i < setting_count(); i++) {
        if (!takes(p->command, setting_at(i))) continue;
        size_t d = text_farness(name, setting_at(i)->name);
        if (d < least) least = d, best = setting_at(i)->name;
    }
    return best;
}

static int take_option(struct parse *p, const struct option_row *o, const char *value)
{
    char plain[128];
    int64_t whole;
    switch (o->type) {
    case OPTION_FLAG:
        if (value) return cli_usage(p->command, "--%s takes no value", o->name);
        *(bool *)o->to = true;
        return EXIT_DONE;
    case OPTION_TEXT:
    case OPTION_INPUT:
    case OPTION_OUTPUT:
        *(const char **)o->to = value;
        return EXIT_DONE;
    case OPTION_WHOLE:
        if (!number_read_whole(value, &whole) || whole < o->least || whole > o->most)
            return cli_usage(p->command, "--%s: '%s' is not a whole number from %lld to %lld", o->name,
                             text_plain(plain, sizeof plain, value), (long long)o->least,
                             (long long)o->most);
        *(int64_t *)o->to = whole;
        return EXIT_DONE;
    }
    return EXIT_BROKEN;
}

/* One option; *next is the argument after it, cleared when it was used. */
static int take_long(struct parse *p, char *argument, char **next)
{
    char *name = argument + 2, *value = strchr(name, '=');
    char word[64];
    snprintf(word, sizeof word, "%.*s", (int)(value ? value - name : (long)strlen(name)), name);
    if (value) value++;

    for (size_t i = 0; i < sizeof listings / sizeof *listings; i++) {
        if (strcmp(word, listings[i].word)) continue;
        p->list = listings[i].list;
        return EXIT_DONE;
    }
    const struct option_row *option = find_option(p->options, word);
    const struct setting *setting = setting_find(word);
    bool settings_file = p->command->settings && !strcmp(word, "settings");
    if (!option && setting && !takes(p->command, setting))
        return cli_usage(p->command, "--%s changes nothing here: `thundercue %s` doesn't take it", word,
                         p->command->name);
    if (!option && !setting && !settings_file) {
        char plain[80];
        const char *near = nearest(p, word);
        text_plain(plain, sizeof plain, word);
        return near ? cli_usage(p->command, "there is no option --%s; did you mean --%s?", plain, near)
                    : cli_usage(p->command, "there is no option --%s", plain);
    }
    bool lone = option ? option->type == OPTION_FLAG : setting && setting->type == SETTING_SWITCH;
    if (!lone && !value) {
        if (!*next) return cli_usage(p->command, "--%s needs a value", word);
        value = *next;
        *next = NULL;
    }
    if (option) return take_option(p, option, value);
    if (settings_file) p->cli->settings_path = value;
    else p->given[p->given_count++] = (struct given){ setting->name, value ? value : "on" };
    return EXIT_DONE;
}

static int apply_settings(struct parse *p)
{
    struct tc_problem why;
    struct tc_settings *s = &p->cli->settings;
    enum tc_status status = TC_OK;
    int64_t preset = s->seed;
    s->seed = NO_SEED;
    if (p->cli->settings_path) status = read_settings(p->cli->settings_path, s, &why);
    if (status != TC_OK) return cli_fail(status, &why);
    for (size_t i = 0; i < p->given_count && status == TC_OK; i++)
        status = tc_settings_set(s, p->given[i].name, p->given[i].value, &why);
    p->cli->seed_given = s->seed != NO_SEED;
    if (!p->cli->seed_given) s->seed = preset;
    if (status == TC_OK) status = tc_settings_check(s, &why);
    return status == TC_OK ? EXIT_DONE : cli_usage(p->command, "--%s", why.text);
}

static int parse_all(struct parse *p, int argc, char **argv)
{
    bool options_end = false;
    for (int i = 0; i < argc; i++) {
        char *argument = argv[i];
        if (!options_end && !strcmp(argument, "--")) {
            options_end = true;
        } else if (!options_end && !strncmp(argument, "--", 2)) {
            char *next = i + 1 < argc ? argv[i + 1] : NULL;
            bool had = next != NULL;
            int exit = take_long(p, argument, &next);
            if (exit != EXIT_DONE) return exit;
            if (had && !next) i++;
        } else if (!options_end && argument[0] == '-' && argument[1]) {
            char plain[64];
            return cli_usage(p->command, "there are no short options like %s; for a file of that name write ./%s",
                             text_plain(plain, sizeof plain, argument), plain);
        } else {
            p->cli->arguments[p->cli->argument_count++] = argument;
        }
        if (p->list) {
            p->list(p);
            return cli_end(EXIT_DONE);
        }
    }
    return apply_settings(p);
}

/* ---- Inputs are kept from outputs ---- */

static const char *path_of(const struct option_row *o, enum option_type type)
{
    return o->type == type ? *(const char **)o->to : NULL;
}

static enum tc_status note_inputs(struct parse *p, struct tc_problem *why)
{
    struct cli *cli = p->cli;
    enum tc_status status = inputs_add(&cli->inputs, cli->settings_path, why);
    for (size_t i = 0; i < cli->argument_count && status == TC_OK; i++)
        status = inputs_add(&cli->inputs, cli->arguments[i], why);
    for (const struct option_row *o = p->options; o->name && status == TC_OK; o++)
        status = inputs_add(&cli->inputs, path_of(o, OPTION_INPUT), why);
    return status;
}

static int keep_inputs(struct parse *p)
{
    struct tc_problem why;
    char plain[512];
    enum tc_status status = note_inputs(p, &why);
    for (const struct option_row *o = p->options; o->name && status == TC_OK; o++) {
        const char *path = path_of(o, OPTION_OUTPUT);
        status = inputs_refuse(&p->cli->inputs, path, &why);
        for (const struct option_row *other = p->options; path && other < o; other++) {
            const char *same = path_of(other, OPTION_OUTPUT);
            if (inputs_same(path, same))
                return cli_usage(p->command, "--%s and --%s would both be %s", other->name, o->name,
                                 text_plain(plain, sizeof plain, path));
        }
    }
    return status == TC_OK ? EXIT_DONE : cli_fail(status, &why);
}

static bool parse(struct parse p, int argc, char **argv)
{
    struct cli *cli = p.cli;
    *cli = (struct cli){ .settings = tc_settings_default() };
    size_t room = (size_t)argc + 1;
    cli->arguments = calloc(room, sizeof *cli->arguments);
    p.given = calloc(room, sizeof *p.given);
    if (!cli->arguments || !p.given) {
        cli->exit = cli_fail(TC_ERR_MEMORY, NULL);
    } else {
        cli->exit = parse_all(&p, argc, argv);
        if (cli->exit == EXIT_DONE && !p.list) cli->exit = keep_inputs(&p);
    }
    free(p.given);
    bool go_on = cli->exit == EXIT_DONE && !p.list;
    if (!go_on) cli_done(cli);
    return go_on;
}

bool cli_parse(struct cli *cli, const struct command *command, const struct option_row *options,
               int argc, char **argv)
{
    return parse((struct parse){ .cli = cli, .command = command, .options = options }, argc, argv);
}

void cli_done(struct cli *cli)
{
    free(cli->arguments);
    cli->arguments = NULL;
    inputs_clear(&cli->inputs);
    cli->argument_count = 0;
}
