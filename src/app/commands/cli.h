/* The command line: one option table per command, long options in the GNU way
 * (--name value, --name=value, unambiguous abbreviations are not accepted, --
 * ends the options). Settings come from the settings table by themselves. */
#ifndef TC_CLI_H
#define TC_CLI_H

#include "io/files/inputs.h"
#include "words/model.h"

/* Exit status of the program. */
enum { EXIT_DONE = 0, EXIT_FINDINGS = 1, EXIT_USAGE = 2, EXIT_READ = 3, EXIT_WRITE = 4, EXIT_BROKEN = 5,
       EXIT_SIGNALLED = 128 }; /* and the number of the signal, as shells have it */

/* An input is a file that is read, an output one that is written: the command
 * line refuses outputs that are inputs, or twice the same. */
enum option_type { OPTION_FLAG, OPTION_TEXT, OPTION_INPUT, OPTION_OUTPUT, OPTION_WHOLE };

/* A number in a help text, from the #define that has it:
 * "seconds of dark (default " IN_HELP(LOCKOUT_USUAL_S) ")". */
#define IN_HELP(constant) IN_HELP_AS_IS(constant)
#define IN_HELP_AS_IS(text) #text

/* One option of a command that is not a setting. */
struct option_row {
    const char *name;
    enum option_type type;
    void *to;               /* bool *, const char ** or int64_t * */
    int64_t least, most;    /* of a whole number */
    const char *value;      /* how help names the value, e.g. "FILE" */
    const char *help;
};

/* Rows that mean the same in several commands. */
#define ROW_RIG(to) \
    { "rig", OPTION_INPUT, to, 0, 0, "FILE", "the rig; without it a built-in one of 12 branches, 4 floods" }
#define ROW_EVENTS(to) \
    { "events", OPTION_INPUT, to, 0, 0, "FILE", \
      "cue from this (edited) events file instead of what is heard; it keeps the sensitivity that it was made with" }
#define ROW_TO(to) \
    { "to", OPTION_TEXT, to, 0, 0, "HOST", "send to this host, or host:port, instead of multicast" }
#define ROW_INTERFACE(to) \
    { "interface", OPTION_TEXT, to, 0, 0, "NAME|list", \
      "the network interface for multicast: its name or address; list shows them" }
#define ROW_JSON(to) \
    { "json", OPTION_OUTPUT, to, 0, 0, "FILE", "write the report for machines too; '-' is standard output" }
#define ROW_FORCE(to) \
    { "force", OPTION_FLAG, to, 0, 0, NULL, "overwrite what thundercue wrote, but not what was edited since" }
#define ROW_DISCARD(to) \
    { "discard-edits", OPTION_FLAG, to, 0, 0, NULL, "overwrite files that were edited too" }
#define ROW_QUIET(to) \
    { "quiet", OPTION_FLAG, to, 0, 0, NULL, "no report" }

/* A command of the program: one per cmd_*.c, listed in main.c. */
struct command {
    const char *name;
    const char *arguments;  /* for the usage line, e.g. "RECORDING" */
    const char *summary;
    int (*run)(const struct command *self, int argc, char **argv); /* argv after the name */
    unsigned settings;      /* which it takes: bits of enum setting_use, 0 = none */
    const char *note;       /* about them, a sentence for --help and the man page; or NULL */
};

/* What a command line said. */
struct cli {
    struct tc_settings settings;
    const char **arguments;   /* those that are not options; freed by cli_done */
    size_t argument_count;
    const char *settings_path;
    bool seed_given;          /* by an option or by the settings file */
    struct inputs inputs;     /* arguments, settings file, and options that are inputs */
    int exit;                 /* valid when cli_parse returns false */
};

/* Parses argv by the command's options (ended by a row without a name) and the
 * settings that it takes. A settings file is for all commands: what this one
 * doesn't take is read and kept, but not refused. False if there is nothing more to do: help was printed or the
 * usage was wrong (one line on standard error); then return cli->exit. */
bool cli_parse(struct cli *cli, const struct command *command, const struct option_row *options,
               int argc, char **argv);
void cli_done(struct cli *cli);

/* Prints "thundercue: LINE" on standard error and returns the exit status:
 * that of the signal if one has asked the program to stop. */
int cli_fail(enum tc_status status, const struct tc_problem *why);
/* A usage error of a command's own finding. */
int cli_usage(const struct command *command, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

/* Reads the rig file or, for NULL, makes the built-in rig. Of a file that is wrong
 * in several places all are printed but the last, which is in *why. */
enum tc_status cli_rig(const char *path, struct tc_rig *out, struct tc_problem *why);

/* Flushes standard output: EXIT_WRITE with a line if that fails, else `exit`. */
int cli_end(int exit);

#endif
