/* thundercue light: the hookup test. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/commands/commands.h"
#include "app/live/hookup.h"
#include "app/report/cautions.h"
#include "app/report/channel_list.h"
#include "app/report/listings.h"
#include "io/files/keepsake.h"
#include "io/files/outfile.h"
#include "io/files/read_file.h"
#include "io/files/stream.h"
#include "io/network/light_guard.h"
#include "rig/rig_edit.h"
#include "rig/rig_keys.h"
#include "words/numbers.h"
#include "words/status.h"
#include "words/text.h"

#define EACH_USUAL_S 2
#define LEVEL_USUAL 100

struct typed {
    const char *rig_path, *to, *interface, *seconds, *save;
    bool each, find_lowest, force;
    int64_t level;
};

static void tell_channel(const struct tc_rig *rig, size_t channel, double level)
{
    char name[120], circuit[80];
    const struct tc_channel *c = &rig->channels[channel];
    text_plain(name, sizeof name, c->name);
    text_plain(circuit, sizeof circuit, c->circuit >= 0 ? rig->circuits[c->circuit].name : "none");
    printf("channel %d  %s  (%s, %g W, circuit %s)  %.0f %%\n", c->number, name, rig_kind_word(c->kind),
           c->watts, circuit, level);
    fflush(stdout);
}

/* The rig file once more, with the levels that were found. The new text of each
 * change is the old text of the next. */
static enum tc_status save(const struct typed *t, const struct tc_rig *rig, const struct hookup_job *job,
                           struct tc_problem *why)
{
    struct file_text text = { 0 };
    struct outfile *file = NULL;
    char *now = NULL;
    enum tc_status status = file_read(t->rig_path, TC_ERR_RIG, &text, why);
    size_t size = text.size;
    for (size_t i = 0; status == TC_OK && i < job->count; i++) {
        if (job->lowest[i] < 0) continue;
        char *next = NULL;
        size_t next_size = 0;
        FILE *memory = open_memstream(&next, &next_size);
        if (!memory) status = problem_say(why, TC_ERR_MEMORY);
        struct tc_sink sink = memory ? stream_sink(memory) : (struct tc_sink){ 0 };
        if (status == TC_OK)
            status = rig_edit_min_level(now ? now : text.bytes, size, rig->channels[job->channels[i]].number,
                                        job->lowest[i], &sink);
        if (status == TC_ERR_RIG)
            problem_set(why, status, "the rig file was changed meanwhile: it has no channel %d now",
                        rig->channels[job->channels[i]].number);
        else if (status != TC_OK && memory)
            status = problem_say(why, TC_ERR_MEMORY); /* a stream into memory fails for nothing else */
        if (memory && fclose(memory) && status == TC_OK) status = problem_say(why, TC_ERR_MEMORY);
        free(now);
        now = next;
        size = next_size;
    }
    if (status == TC_OK && t->force) status = keepsake_refuse(t->save, true, why);
    if (status == TC_OK) status = outfile_open(&file, t->save, t->force, why);
    if (status == TC_OK) {
        fwrite(now ? now : text.bytes, 1, size, outfile_stream(file));
        status = outfile_commit(file, why);
    }
    free(now);
    file_text_free(&text);
    return status;
}

/* Which channels: those named, or all of them. EXIT_DONE or a usage error. */
static int choose(const struct command *self, const struct cli *cli, const struct typed *t, const struct tc_rig *rig,
                  size_t *channels, size_t *count)
{
    char plain[60];
    if (t->each) {
        for (*count = 0; *count < rig->channel_count; ++*count) channels[*count] = *count;
        return EXIT_DONE;
    }
    *count = 0;
    for (size_t i = 0; i < cli->argument_count; i++) {
        size_t found = channel_list_find(rig, cli->arguments[i], &channels[*count]);
        if (!found)
            return cli_usage(self,
                             "'%s' is no channel of the rig: give its number or its name "
                             "(thundercue rig lists them), or 1-4 for several",
                             text_plain(plain, sizeof plain, cli->arguments[i]));
        *count += found;
    }
    return EXIT_DONE;
}

static int light(const struct command *self, const struct cli *cli, const struct typed *t, double seconds)
{
    struct tc_rig rig = { 0 };
    struct tc_problem why = { "" };
    enum tc_status status = cli_rig(t->rig_path, &rig, &why);
    if (status != TC_OK) return cli_fail(status, &why);
    size_t room = rig.channel_count * (cli->argument_count + 1), *channels = calloc(room, sizeof *channels);
    double *lowest = calloc(room, sizeof *lowest);
    struct hookup_job job = { .channels = channels, .to = t->to, .interface = t->interface, .level = (double)t->level,
                              .seconds = seconds,
                              .find_lowest = t->find_lowest, .lowest = lowest, .tell = tell_channel };
    int exit = channels && lowest ? choose(self, cli, t, &rig, channels, &job.count) : cli_fail(TC_ERR_MEMORY, NULL);
    if (exit == EXIT_DONE) {
        caution_wrap(stderr, caution_text(CAUTION_LIVE), "", "", 90);
        status = hookup_run(&job, &rig, &why);
        for (size_t i = 0; t->find_lowest && i < job.count; i++)
            if (lowest[i] > 0) printf("channel %d: min_level = %g\n", rig.channels[channels[i]].number, lowest[i]);
        if (status == TC_OK && t->save) {
            char plain[512];
            status = save(t, &rig, &job, &why);
            if (status == TC_OK) printf("wrote %s\n", text_plain(plain, sizeof plain, t->save));
        }
        if (status != TC_OK) exit = cli_fail(status, &why);
        if (status == TC_ERR_STOPPED && light_guard_signal()) exit = EXIT_SIGNALLED + light_guard_signal();
    }
    free(channels);
    free(lowest);
    tc_rig_clear(&rig);
    return exit;
}

static int run(const struct command *self, int argc, char **argv)
{
    struct typed typed = { .level = LEVEL_USUAL };
    const struct option_row options[] = {
        { "rig", OPTION_INPUT, &typed.rig_path, 0, 0, "FILE",
          "the rig; its [network] section says where the levels go" },
        ROW_TO(&typed.to),
        ROW_INTERFACE(&typed.interface),
        { "each", OPTION_FLAG, &typed.each, 0, 0, NULL, "every channel of the rig, one after the other" },
        { "seconds", OPTION_TEXT, &typed.seconds, 0, 0, "S",
          "how long each (default: until a key; " IN_HELP(EACH_USUAL_S) " with --each)" },
        { "level", OPTION_WHOLE, &typed.level, 1, 100, "PERCENT",
          "how bright (default " IN_HELP(LEVEL_USUAL) "; never above max_level)" },
        { "find-lowest", OPTION_FLAG, &typed.find_lowest, 0, 0, NULL,
          "fade up slowly; press a key when the lamp first lights" },
        { "save", OPTION_OUTPUT, &typed.save, 0, 0, "FILE", "write the rig file there with the min_level found" },
        { "force", OPTION_FLAG, &typed.force, 0, 0, NULL, "overwrite an existing --save file" },
        { 0 },
    };
    struct cli cli;
    if (!cli_parse(&cli, self, options, argc, argv)) return cli.exit;
    if (typed.interface && !strcmp(typed.interface, "list")) {
        struct tc_problem why = { "" };
        enum tc_status status = listing_interfaces(stdout, &why);
        cli_done(&cli);
        return status == TC_OK ? EXIT_DONE : cli_fail(status, &why);
    }
    double seconds = typed.each ? EACH_USUAL_S : 0;
    int exit = EXIT_DONE;
    if (!cli.argument_count && !typed.each)
        exit = cli_usage(self, "which channels? Give their numbers or names, or --each");
    else if (cli.argument_count && typed.each) exit = cli_usage(self, "give channels or --each, not both");
    else if (typed.seconds && (!number_read(typed.seconds, &seconds) || seconds < HOOKUP_LEAST_S || seconds > 86400))
        exit = cli_usage(self, "--seconds: '%s' is not a number of seconds from %g to 86400", typed.seconds,
                         HOOKUP_LEAST_S);
    else if (typed.save && (!typed.rig_path || !typed.find_lowest))
        exit = cli_usage(self, "--save goes with --find-lowest and --rig: it writes a copy of that file");
    if (exit == EXIT_DONE) exit = light(self, &cli, &typed, seconds);
    cli_done(&cli);
    return exit;
}

const struct command command_light = {
    "light", "CHANNEL...", "Light single channels at the hookup, or find a lamp's lowest level", run, 0,
    "A channel is given by its number or its name, and 1-4 means those from 1 to 4",
};
