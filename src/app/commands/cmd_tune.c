/* thundercue tune: how many cracks each sensitivity finds, and how many of
 * those that a person labelled. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "app/commands/commands.h"
#include "app/tune/tune_listen.h"
#include "app/tune/tune_report.h"
#include "io/files/folder.h"
#include "io/files/keepsake.h"
#include "io/files/outfile.h"
#include "io/files/stream.h"
#include "words/numbers.h"
#include "words/settings.h"
#include "words/status.h"
#include "words/text.h"
#include "words/units.h"

struct tuning {
    struct inputs *inputs;
    const char *labels, *format, *save;
    const char *from, *to;      /* as typed; NULL = not said */
    struct part part;
    bool force;
    struct tc_settings *settings;
    bool folder, csv;
    struct sweep sum;
    size_t failed;
};

static const char *name_of(const char *path)
{
    const char *slash = strrchr(path, '/');
    return slash ? slash + 1 : path;
}

/* What is heard at the sensitivity that was asked for, as labels to correct. */
static enum tc_status print_labels(const struct tuning *t, const char *recording, struct tc_problem *why)
{
    struct tc_analysis heard = { 0 };
    enum tc_status status = tune_hear(recording, t->settings, t->part, &heard, NULL, why);
    if (status == TC_OK) fputs("kind,start_s,end_s,weight\r\n", stdout);
    for (size_t i = 0; status == TC_OK && i < heard.event_count; i++) {
        const struct tc_event *e = &heard.events[i];
        printf("%s,%.3f,", e->kind == TC_CRACK ? "crack" : "rumble", (double)e->start_ms / 1000);
        if (e->kind == TC_RUMBLE) printf("%.3f", (double)e->end_ms / 1000);
        fputs(e->kind == TC_CRACK ? ",2\r\n" : ",\r\n", stdout);
    }
    tc_analysis_clear(&heard);
    return status;
}

/* ---- Saving ---- */

static enum tc_status save(const struct tuning *t, bool changed, struct tc_problem *why)
{
    struct outfile *file;
    enum tc_status status = t->force ? keepsake_refuse(t->save, false, why) : TC_OK;
    if (status == TC_OK) status = outfile_open(&file, t->save, t->force, why);
    if (status != TC_OK) return status;
    FILE *out = outfile_stream(file);
    fprintf(out, "# %s; use with --settings\n",
            changed ? "Sensitivity chosen with thundercue tune, to agree best with labels"
                    : "Kept as it was: thundercue tune found no reason for another sensitivity");
    struct tc_settings rest = *t->settings, presets = tc_settings_default();
    char value[32];
    fprintf(out, "sensitivity = %s\n", setting_value(setting_find("sensitivity"), t->settings, value, sizeof value));
    rest.sensitivity = presets.sensitivity;
    tc_settings_write(&rest, false, stream_sink(out), NULL);
    return outfile_commit(file, why);
}

/* ---- The command ---- */

/* A recording and the labels beside it are not overwritten by --save. */
static enum tc_status keep(struct tuning *t, const char *recording, struct tc_problem *why)
{
    char *labels = t->labels ? NULL : labels_beside(recording);
    enum tc_status status = inputs_add(t->inputs, recording, why);
    if (status == TC_OK) status = inputs_add(t->inputs, labels, why);
    free(labels);
    return status == TC_OK ? inputs_refuse(t->inputs, t->save, why) : status;
}

static void say(const char *line)
{
    fprintf(stderr, "thundercue: note: %s\n", line);
}

static enum tc_status listen(const struct tuning *t, const char *path, struct sweep *out, struct tc_problem *why)
{
    struct label_notes notes = { .count = 0 };
    enum tc_status status = tune_listen(path, t->labels, t->settings, t->part, out, &notes, why);
    for (size_t i = 0; i < notes.count; i++) say(notes.lines[i].text);
    return status;
}

static enum tc_status tune_one(struct tuning *t, const char *path, struct tc_problem *why)
{
    enum tc_status status = keep(t, path, why);
    if (status == TC_OK) status = listen(t, path, &t->sum, why);
    if (status != TC_OK || t->sum.labelled) return status;
    char *own = strdup(path), *folder = strdup(path), *slash = folder ? strrchr(folder, '/') : NULL;
    if (slash) slash[1] = 0;
    if (own && folder) labels_misnamed(slash ? folder : ".", &own, 1, false, say);
    free(own);
    free(folder);
    return TC_OK;
}

static enum tc_status tune_next(struct tuning *t, const char *path, struct tc_problem *why)
{
    struct sweep one = sweep_empty();
    enum tc_status status = listen(t, path, &one, why);
    if (status == TC_OK) status = sweep_add(&t->sum, &one);
    if (status == TC_OK) {
        if (t->csv) tune_csv_rows(stdout, name_of(path), &one);
        else tune_print_recording(stdout, name_of(path), &one, t->settings->sensitivity);
    }
    sweep_clear(&one);
    return status;
}

static enum tc_status tune_folder(struct tuning *t, const char *folder, struct tc_problem *why)
{
    char **list, plain[512];
    size_t count;
    enum tc_status status = folder_recordings(folder, &list, &count, why);
    if (status != TC_OK) return status;
    if (!count)
        status = problem_set(why, TC_ERR_READ, "%s: there are no recordings in it",
                             text_plain(plain, sizeof plain, folder));
    else if (!t->csv) tune_print_recordings_head(stdout, t->settings->sensitivity);
    for (size_t i = 0; i < count && status == TC_OK; i++) status = keep(t, list[i], why);
    for (size_t i = 0; i < count && status == TC_OK; i++) {
        enum tc_status one = tune_next(t, list[i], why);
        if (one == TC_ERR_READ || one == TC_ERR_FORM) {
            cli_fail(one, why);
            t->failed++;
        } else {
            status = one;
        }
    }
    if (status == TC_OK) labels_misnamed(folder, list, count, true, say);
    folder_list_free(list, count);
    return status;
}

static bool is_folder(const char *path)
{
    struct stat st;
    return !stat(path, &st) && S_ISDIR(st.st_mode);
}

static enum tc_status tune_all(struct tuning *t, const char *path, struct tc_problem *why)
{
    if (t->csv) tune_csv_head(stdout);
    enum tc_status status = t->folder ? tune_folder(t, path, why) : tune_one(t, path, why);
    if (status != TC_OK) return status;

    struct sweep_choice choice = sweep_choose(&t->sum, t->settings->sensitivity);
    if (t->csv) {
        tune_csv_rows(stdout, t->folder ? "total" : name_of(path), &t->sum);
    } else {
        if (t->folder) printf("\nAll %zu together (%zu labelled)\n", t->sum.recordings, t->sum.labelled);
        tune_print_sweep(stdout, &t->sum, &choice);
        status = tune_print_advice(stdout, &t->sum, &choice, !t->folder);
        if (status != TC_OK) return problem_say(why, status);
    }
    if (!t->save) return TC_OK;
    bool change = choice.verdict == SWEEP_MOVE;
    if (change) t->settings->sensitivity = t->sum.rows[choice.taken].sensitivity;
    status = save(t, change, why);
    char plain[512];
    if (status == TC_OK)
        fprintf(t->csv ? stderr : stdout, "wrote %s with sensitivity %s%s\n", text_plain(plain, sizeof plain, t->save),
                SHOWN(t->settings->sensitivity, 6), change ? "" : ", as it was");
    return status;
}

/* ---- Options ---- */

/* A time as typed; not said, *out stays. */
static bool read_time(const char *typed, int64_t *out)
{
    double s;
    if (!typed) return true;
    if (!number_read(typed, &s) || s < 0 || s > setting_find("to")->most) return false;
    *out = seconds_ms(s);
    return true;
}

static int read_part(const struct command *self, struct tuning *t)
{
    static const char wrong[] = "--%s: '%s' is not a number of seconds from 0 to %.0f";
    double most = setting_find("to")->most;
    t->part = PART_WHOLE;
    if ((t->from || t->to) && t->folder) return cli_usage(self, "--from and --to go with one recording");
    if (!read_time(t->from, &t->part.from_ms)) return cli_usage(self, wrong, "from", t->from, most);
    if (!read_time(t->to, &t->part.to_ms)) return cli_usage(self, wrong, "to", t->to, most);
    if (t->part.to_ms <= t->part.from_ms) return cli_usage(self, "--to: %s s is not after --from", t->to);
    return EXIT_DONE;
}

static int run(const struct command *self, int argc, char **argv)
{
    struct tuning t = { .format = "table", .sum = sweep_empty() };
    const struct option_row options[] = {
        { "labels", OPTION_INPUT, &t.labels, 0, 0, "FILE",
          "labels of the recording, or its events.csv corrected by hand; without it NAME.labels.csv beside it" },
        { "format", OPTION_TEXT, &t.format, 0, 0, "table|csv|labels",
          "how to print the sweep; labels prints what is found now, to correct and use as labels" },
        { "from", OPTION_TEXT, &t.from, 0, 0, "S", "tune by what lies from this moment on, for instance the part with labels" },
        { "to", OPTION_TEXT, &t.to, 0, 0, "S", "tune by what lies before this moment" },
        { "save", OPTION_OUTPUT, &t.save, 0, 0, "FILE",
          "write the chosen settings, for --settings FILE in all commands" },
        { "force", OPTION_FLAG, &t.force, 0, 0, NULL, "overwrite an existing settings file" },
        { 0 },
    };
    struct cli cli;
    if (!cli_parse(&cli, self, options, argc, argv)) return cli.exit;
    int exit = EXIT_DONE;
    t.settings = &cli.settings;
    t.inputs = &cli.inputs;
    t.csv = !strcmp(t.format, "csv");
    if (cli.argument_count != 1) exit = cli_usage(self, "give one recording or one folder");
    else if (!t.csv && strcmp(t.format, "table") && strcmp(t.format, "labels"))
        exit = cli_usage(self, "--format: '%s' is not table, csv or labels", t.format);
    else if ((t.folder = is_folder(cli.arguments[0])) && t.labels)
        exit = cli_usage(self, "--labels goes with one recording; in a folder labels lie beside each");
    else if (t.folder && !strcmp(t.format, "labels")) exit = cli_usage(self, "--format labels goes with one recording");
    else if ((t.save || t.labels || t.force) && !strcmp(t.format, "labels"))
        exit = cli_usage(self, "--%s does nothing with --format labels; for a file of them say --format labels > NAME.labels.csv",
                         t.save ? "save" : t.labels ? "labels" : "force");
    if (exit == EXIT_DONE) exit = read_part(self, &t);

    struct tc_problem why = { "" };
    if (exit == EXIT_DONE) {
        bool labels = !strcmp(t.format, "labels");
        enum tc_status status = labels ? print_labels(&t, cli.arguments[0], &why)
            : tune_all(&t, cli.arguments[0], &why);
        if (status != TC_OK) exit = cli_fail(status, &why);
        else if (t.failed) exit = EXIT_FINDINGS;
    }
    sweep_clear(&t.sum);
    cli_done(&cli);
    return exit;
}

const struct command command_tune = {
    "tune", "RECORDING|FOLDER", "Show what each sensitivity finds, and with labels which is best", run, SETTING_HEARING,
    NULL,
};
