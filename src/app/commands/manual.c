#include "app/commands/manual.h"

#include <stdio.h>

#include "app/clip/job.h"
#include "app/commands/settings_help.h"
#include "app/night/night_memory.h"
#include "app/report/cautions.h"
#include "io/files/ledger.h"

/* Lets a command list its own options, in the form that `how` asks for. */
static void list(const struct command *command, const char *how)
{
    char word[32];
    snprintf(word, sizeof word, "%s", how);
    char *argv[] = { word };
    command->run(command, 1, argv);
}

/* Files besides those of a recording, as roff source. */
static void print_files(void)
{
    static const struct { const char *name, *about; } files[] = {
        { "NAME.night.csv", "the running order of an evening; edit it and build from it again with\n.B \\-\\-order" },
        { "summary.csv", "what became of each recording of a folder, in the output folder of\n.B batch" },
        { "NAME.rig",
          "a rig, given with\n.BR \\-\\-rig ;\n.B thundercue rig \\-\\-example\nprints "
          "one with a comment to every key" },
        { "NAME.settings",
          "settings, a \\fIname = value\\fR a line, given with\n.BR \\-\\-settings ;\n.B tune \\-\\-save\n"
                           "and the page write such files" },
        { "NAME.labels.csv",
          "the cracks and rumbles that a person hears in the recording NAME beside it, for\n.BR tune :\n"
          "\\fIkind,start_s,end_s,weight\\fR, weight 3 for what nobody misses, 1 for what is doubtful" },
        { LEDGER_NAME, "in every folder with outputs: which files are still as they were written, so that\n"
                       "what was edited is never overwritten without\n.B \\-\\-discard\\-edits" },
        { NIGHT_MEMORY_NAME,
          "beside an evening: what was heard in its recordings, so that it need not be "
          "heard again; it may be deleted" },
    };
    for (size_t i = 0; i < sizeof files / sizeof *files; i++) printf(".TP\n.I %s\n%s\n", files[i].name, files[i].about);
}

void manual_man(const struct command *const *commands, size_t count)
{
    puts(".TH THUNDERCUE 1 \"\" \"thundercue " TC_VERSION "\" \"User Commands\"\n"
         ".SH NAME\nthundercue \\- turn thunder recordings into flash timelines for a dimmer rig\n"
         ".SH SYNOPSIS\n.B thundercue\n.I COMMAND\n[\\fIOPTION\\fR...] ...\n"
         ".SH DESCRIPTION\n"
         "Listens to a thunder recording, finds its cracks and rumbles, plans strokes over the\n"
         "branches and floods of a scenic lightning bolt, keeps them within a safe flash rate, adds\n"
         "up the load, and writes the levels of every dimmer channel as CSV, with a page to look at.\n"
         "A recording is any file that libsndfile reads; \\(oq\\-\\(cq is standard input.\n"
         ".SH COMMANDS");
    for (size_t i = 0; i < count; i++) list(commands[i], "--help-man");
    puts(".SH SETTINGS\n"
         "The commands that take these, all or some, take them as options. A file of "
         "\\fIname = value\\fR lines, read with\n"
         ".B \\-\\-settings\n.IR FILE ,\nsets them before the options do.");
    settings_man(stdout);
    puts(".SH FILES");
    for (int i = 0; i < RUN_FILES; i++) printf(".TP\n.I STEM%s\n%s\n", run_file(i)->ending, run_file(i)->about);
    print_files();
    puts(".SH EXIT STATUS\n"
         ".TP\n.B 0\ndone\n.TP\n.B 1\ndone, with findings: a check failed, or clips of a folder did\n"
         ".TP\n.B 2\nwrong usage or rig file\n.TP\n.B 3\na recording can\\(cqt be read\n"
         ".TP\n.B 4\nan output can\\(cqt be written\n.TP\n.B 5\ninternal error\n"
         ".TP\n.B 130, 143\nstopped by Ctrl-C or by SIGTERM\n"
         ".SH CAUTIONS");
    static const enum caution shown[] = { CAUTION_FLASHING, CAUTION_WIRING, CAUTION_OUTDOORS, CAUTION_LINE };
    for (size_t i = 0; i < sizeof shown / sizeof *shown; i++) printf("%s\n.PP\n", caution_text(shown[i]));
}

void manual_completion(const struct command *const *commands, size_t count)
{
    puts("# bash completion for thundercue; put it into /usr/share/bash-completion/completions\n"
         "_thundercue()\n{\n"
         "    local word=${COMP_WORDS[COMP_CWORD]} words=\n"
         "    COMPREPLY=()\n"
         "    if [ \"$COMP_CWORD\" = 1 ]; then\n"
         "        words='--help --version");
    for (size_t i = 0; i < count; i++) puts(commands[i]->name);
    puts("'\n    elif [[ $word == -* ]]; then\n"
         "        case ${COMP_WORDS[1]} in");
    for (size_t i = 0; i < count; i++) {
        printf("        %s) words='", commands[i]->name);
        list(commands[i], "--help-words");
        puts("' ;;");
    }
    puts("        esac\n"
         "    fi\n"
         "    [ -n \"$words\" ] && COMPREPLY=($(compgen -W \"$words\" -- \"$word\"))\n"
         "}\n"
         "complete -o default -F _thundercue thundercue");
}
