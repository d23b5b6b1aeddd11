/* thundercue tune: how many cracks each sensitivity finds, and how many of
 * those that a person labelled. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "app/clip/listen_file.h"
#include "app/tune/tune.h"
#include "app/commands/commands.h"
#include "io/files/folder.h"
#include "io/files/keepsake.h"
#include "io/files/outfile.h"
#include "io/files/stream.h"
#include "words/settings.h"
#include "words/status.h"
#include "words/text.h"

enum { BAR = 24 };

struct tuning {
    struct inputs *inputs;
    const char *labels, *format, *save;
    bool force;
    struct tc_settings *settings;
    bool folder, csv;
    struct tune sum;
    size_t failed;
};

static double a_minute(size_t cracks, int64_t length_ms)
{
    return length_ms > 0 ? 60000.0 * (double)cracks / (double)length_ms : 0;
}

static const char *name_of(const char *path)
{
    const char *slash = strrchr(path, '/');
    return slash ? slash + 1 : path;
}

/* ---- CSV ---- */

static void csv_rows(const char *name, const struct tune *t)
{
    char plain[512];
    text_plain(plain, sizeof plain, name);
    for (size_t r = 0; r < TUNE_ROWS; r++) {
        const struct tune_row *row = &t->rows[r];
        stream_cell(stdout, plain, true);
        printf(",%.0f,%zu,%zu,%.2f", row->sensitivity, row->cracks, row->rumbles,
               a_minute(row->cracks, t->length_ms));
        if (t->labelled)
            printf(",%zu,%zu,%zu,%.3f,%.3f,%.3f,%.3f", row->score.hits, row->score.misses,
                   row->score.false_alarms, score_precision(&row->score), score_recall(&row->score),
                   score_f(&row->score), score_rumble_f(&row->score));
        else
            fputs(",,,,,,,", stdout);
        fputs("\r\n", stdout);
    }
}

/* What is heard at the sensitivity that was asked for, as labels to correct. */
static enum tc_status print_labels(const struct tuning *t, const char *recording, struct tc_problem *why)
{
    struct tc_analysis heard = { 0 };
    enum tc_status status = listen_file(recording, t->settings, &heard, NULL, why);
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

/* ---- Tables ---- */

/* The row nearest to a sensitivity. */
static size_t row_at(double sensitivity)
{
    return (size_t)(sensitivity / TUNE_STEP + 0.5);
}

static void print_recordings_head(const struct tuning *t)
{
    printf("At sensitivity %.0f\n", (double)(row_at(t->settings->sensitivity) * TUNE_STEP));
    printf("%-28s %8s %7s %8s  %5s %6s %6s  %5s %5s %5s %8s\n", "recording", "seconds", "cracks", "rumbles",
           "hits", "missed", "false", "P", "R", "F", "rumble F");
}

static void print_recording(const struct tuning *t, const char *path, const struct tune *one)
{
    char plain[29];
    const struct tune_row *row = &one->rows[row_at(t->settings->sensitivity)];
    printf("%-28s %8.1f %7zu %8zu", text_plain(plain, sizeof plain, name_of(path)),
           (double)one->length_ms / 1000, row->cracks, row->rumbles);
    if (one->labelled)
        printf("  %5zu %6zu %6zu  %5.2f %5.2f %5.2f %8.2f", row->score.hits, row->score.misses,
               row->score.false_alarms, score_precision(&row->score), score_recall(&row->score),
               score_f(&row->score), score_rumble_f(&row->score));
    else
        fputs("  (no labels)", stdout);
    putchar('\n');
}

static void print_bar(double share)
{
    int n = (int)(share * BAR + 0.5);
    for (int i = 0; i < n; i++) putchar('=');
}

static void print_sweep(const struct tune *t, size_t best, bool known)
{
    double most = 1;
    size_t first = TUNE_ROWS, last = 0;
    if (known) tune_ties(t, best, &first, &last);
    for (size_t r = 0; r < TUNE_ROWS; r++) most = fmax(most, (double)t->rows[r].cracks);
    printf("  %11s %7s %8s", "sensitivity", "cracks", "a minute");
    if (t->labelled) printf("  %5s %6s %6s  %5s %5s %5s  %s\n", "hits", "missed", "false", "P", "R", "F", "plot of F");
    else puts("  plot of cracks");
    for (size_t r = 0; r < TUNE_ROWS; r++) {
        const struct tune_row *row = &t->rows[r];
        const struct score *s = &row->score;
        printf("%c %11.0f %7zu %8.1f", r >= first && r <= last ? '*' : ' ', row->sensitivity, row->cracks,
               a_minute(row->cracks, t->length_ms));
        if (t->labelled)
            printf("  %5zu %6zu %6zu  %5.2f %5.2f %5.2f", s->hits, s->misses, s->false_alarms, score_precision(s),
                   score_recall(s), score_f(s));
        fputs("  ", stdout);
        print_bar(t->labelled ? score_f(s) : (double)row->cracks / most);
        putchar('\n');
    }
}

/* Without labels nobody can choose: where to look, and how to go on. */
static void print_where_to_look(const struct tuning *t)
{
    size_t first, last;
    tune_steadiest(&t->sum, &first, &last);
    const struct tune_row *from = &t->sum.rows[first], *to = &t->sum.rows[last];
    puts("\nNo labels: nothing says which of these cracks are right, so no sensitivity can be chosen.");
    if (to->cracks)
        printf("The number of cracks is steadiest from %.0f (%zu cracks) to %.0f (%zu): look at the page made with\n"
               "%.0f first, then with %.0f and %.0f.\n", from->sensitivity, from->cracks, to->sensitivity, to->cracks,
               (from->sensitivity + to->sensitivity) / 2, from->sensitivity, to->sensitivity);
    if (!t->folder)
        puts("For labels to start from: thundercue tune RECORDING --format labels > NAME.labels.csv, then correct\n"
             "them by ear and run tune again. An events.csv that you corrected does as well: --labels FILE.");
}

static double f_at(const struct tune *t, size_t row)
{
    return score_f(&t->rows[row].score);
}

/* True if the labels suffice to tell that a row is worse than the best. */
static bool told_from(const struct tune *t, size_t best, size_t row)
{
    size_t first, last;
    tune_as_good(t, best, &first, &last);
    return row < first || row > last;
}

/* What the table means, and which sensitivity to take. */
static void print_advice(struct tuning *t, size_t best, bool known, double kept)
{
    struct tune *sum = &t->sum;
    if (!sum->labelled) {
        print_where_to_look(t);
        return;
    }
    puts("\nP (precision): the share of the cracks found that are labelled. R (recall): the share of the labelled\n"
         "cracks that are found. F: the two in one number, 1 when both are.");
    if (!known) {
        printf("The labels name no crack that must be found, so they choose nothing; sensitivity stays at %.0f.\n",
               kept);
        return;
    }
    size_t first, last, required = tune_required(sum), now = row_at(kept);
    struct score *s = &sum->rows[best].score;
    tune_ties(sum, best, &first, &last);
    printf("\n* best: sensitivity %.0f", sum->rows[first].sensitivity);
    if (first < last)
        printf(" to %.0f alike, of which %.0f is taken", sum->rows[last].sensitivity, sum->rows[best].sensitivity);
    printf("; F %.3f within %.0f ms;\n  timing error: median %.1f ms, 95th percentile %.1f ms; rumbles F %.3f.",
           score_f(s),
           1000 * SCORE_TOLERANCE_S, 1000 * score_error(s, 0.5), 1000 * score_error(s, 0.95), score_rumble_f(s));
    if (now < first || now > last) printf(" Sensitivity %.0f has F %.3f.", sum->rows[now].sensitivity, f_at(sum, now));
    putchar('\n');
    tune_as_good(sum, best, &first, &last);
    if (s->doubtful)
        printf("  %zu label%s of weight 1, being doubtful, count%s neither way.\n", s->doubtful,
               s->doubtful == 1 ? "" : "s",
               s->doubtful == 1 ? "s" : "");
    if (told_from(sum, best, now))
        printf("  By these labels %.0f is clearly worse: take %.0f. If some cracks have "
               "no label yet, add them first.\n",
               sum->rows[now].sensitivity, sum->rows[best].sensitivity);
    else if (first < last)
        printf("  %zu labelled crack%s that must be found %s too few to choose: anything from %.0f to %.0f may be as "
               "good. Stay at %.0f.\n", required,
               required == 1 ? "" : "s", required == 1 ? "is" : "are",
               sum->rows[first].sensitivity, sum->rows[last].sensitivity, kept);
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
    char *labels = t->labels ? NULL : tune_labels(recording);
    enum tc_status status = inputs_add(t->inputs, recording, why);
    if (status == TC_OK) status = inputs_add(t->inputs, labels, why);
    free(labels);
    return status == TC_OK ? inputs_refuse(t->inputs, t->save, why) : status;
}

static enum tc_status tune_one(struct tuning *t, const char *path, struct tc_problem *why)
{
    struct tune one = tune_empty();
    struct tc_problem remark = { "" };
    enum tc_status status = tune_listen(path, t->labels, t->settings, &one, &remark, why);
    if (status == TC_OK && *remark.text) fprintf(stderr, "thundercue: note: %s\n", remark.text);
    if (status == TC_OK) status = tune_add(&t->sum, &one);
    if (status == TC_OK && t->folder) {
        if (t->csv) csv_rows(name_of(path), &one);
        else print_recording(t, path, &one);
    }
    tune_clear(&one);
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
    else if (!t->csv) print_recordings_head(t);
    for (size_t i = 0; i < count && status == TC_OK; i++) status = keep(t, list[i], why);
    for (size_t i = 0; i < count && status == TC_OK; i++) {
        enum tc_status one = tune_one(t, list[i], why);
        if (one == TC_ERR_READ || one == TC_ERR_FORM) {
            cli_fail(one, why);
            t->failed++;
        } else {
            status = one;
        }
    }
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
    if (t->csv)
        fputs("recording,sensitivity,cracks,rumbles,cracks_a_minute,hits,misses,false_alarms,"
              "precision,recall,f,rumble_f\r\n", stdout);
    enum tc_status status = t->folder ? TC_OK : keep(t, path, why);
    if (status == TC_OK) status = t->folder ? tune_folder(t, path, why) : tune_one(t, path, why);
    if (status != TC_OK) return status;

    double kept = t->settings->sensitivity;
    size_t best = tune_best_or(&t->sum, row_at(kept));
    bool known = t->sum.labelled && tune_required(&t->sum) > 0;
    if (t->csv) {
        csv_rows(t->folder ? "total" : name_of(path), &t->sum);
    } else {
        if (t->folder) printf("\nAll %zu together (%zu labelled)\n", t->sum.recordings, t->sum.labelled);
        print_sweep(&t->sum, best, known);
        print_advice(t, best, known, kept);
    }
    if (!t->save) return TC_OK;
    bool change = known && told_from(&t->sum, best, row_at(kept));
    if (change) t->settings->sensitivity = t->sum.rows[best].sensitivity;
    status = save(t, change, why);
    char plain[512];
    if (status == TC_OK) fprintf(t->csv ? stderr : stdout, "wrote %s\n", text_plain(plain, sizeof plain, t->save));
    return status;
}

static int run(const struct command *self, int argc, char **argv)
{
    struct tuning t = { .format = "table", .sum = tune_empty() };
    const struct option_row options[] = {
        { "labels", OPTION_INPUT, &t.labels, 0, 0, "FILE",
          "labels of the recording, or its events.csv corrected by hand; without it NAME.labels.csv beside it" },
        { "format", OPTION_TEXT, &t.format, 0, 0, "table|csv|labels",
          "how to print the sweep; labels prints what is found now, to correct and use as labels" },
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

    struct tc_problem why = { "" };
    if (exit == EXIT_DONE) {
        bool labels = !strcmp(t.format, "labels");
        enum tc_status status = labels ? print_labels(&t, cli.arguments[0], &why)
            : tune_all(&t, cli.arguments[0], &why);
        if (status != TC_OK) exit = cli_fail(status, &why);
        else if (t.failed) exit = EXIT_FINDINGS;
    }
    tune_clear(&t.sum);
    cli_done(&cli);
    return exit;
}

const struct command command_tune = {
    "tune", "RECORDING|FOLDER", "Show what each sensitivity finds, and with labels which is best", run, SETTING_HEARING,
    NULL,
};
