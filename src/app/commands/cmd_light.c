/* thundercue light: the hookup test. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/report/cautions.h"
#include "app/report/channel_list.h"
#include "app/commands/commands.h"
#include "app/live/hookup.h"
#include "app/report/listings.h"
#include "io/network/light_guard.h"
#include "io/files/keepsake.h"
#include "io/files/outfile.h"
#include "io/files/read_file.h"
#include "io/files/stream.h"
#include "rig/rig_edit.h"
#include "rig/rig_keys.h"
#include "words/numbers.h"
#include "words/status.h"
#include "words/text.h"

#define EACH_USUAL_S 2
#define LEVEL_USUAL 100

struct wish {
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

static enum tc_status no_memory(struct tc_problem *why)
{
    return problem_set(why, TC_ERR_MEMORY, "%s", tc_status_text(TC_ERR_MEMORY));
}

/* The rig file once more, with the levels that were found. The new text of each
 * change is the old text of the next. */
static enum tc_status save(const struct wish *w, const struct tc_rig *rig, const struct hookup_job *job, struct tc_problem *why)
{
    struct file_text text = { 0 };
    struct outfile *file = NULL;
    char *now = NULL;
    enum tc_status status = file_read(w->rig_path, TC_ERR_RIG, &text, why);
    size_t size = text.size;
    for (size_t i = 0; status == TC_OK && i < job->count; i++) {
        if (job->lowest[i] < 0) continue;
        char *next = NULL;
        size_t next_size = 0;
        FILE *memory = open_memstream(&next, &next_size);
        if (!memory) status = no_memory(why);
        struct tc_sink sink = memory ? stream_sink(memory) : (struct tc_sink){ 0 };
        if (status == TC_OK)
            status = rig_edit_min_level(now ? now : text.bytes, size, rig->channels[job->channels[i]].number, job->lowest[i], &sink);
        if (status == TC_ERR_RIG)
            problem_set(why, status, "the rig file was changed meanwhile: it has no channel %d now", rig->channels[job->channels[i]].number);
        else if (status != TC_OK && memory)
            status = no_memory(why); /* a stream into memory fails for nothing else */
        if (memory && fclose(memory) && status == TC_OK) status = no_memory(why);
        free(now);
        now = next;
        size = next_size;
    }
    if (status == TC_OK && w->force) status = keepsake_refuse(w->save, true, why);
    if (status == TC_OK) status = outfile_open(&file, w->save, w->force, why);
    if (status == TC_OK) {
        fwrite(now ? now : text.bytes, 1, size, outfile_stream(file));
        status = outfile_commit(file, why);
    }
    free(now);
    file_text_free(&text);
    return status;
}

/* Which channels: those named, or all of them. EXIT_DONE or a usage error. */
static int choose(const struct command *self, const struct cli *cli, const struct wish *w, const struct tc_rig *rig,
                  size_t *channels, size_t *count)
{
    char plain[60];
    if (w->each) {
        for (*count = 0; *count < rig->channel_count; ++*count) channels[*count] = *count;
        return EXIT_DONE;
    }
    *count = 0;
    for (size_t i = 0; i < cli->argument_count; i++) {
        size_t found = channel_list_find(rig, cli->arguments[i], &channels[*count]);
        if (!found)
            return cli_usage(self, "'%s' is no channel of the rig: give its number or its name (thundercue rig lists them), or 1-4 for several",
                             text_plain(plain, sizeof plain, cli->arguments[i]));
        *count += found;
    }
    return EXIT_DONE;
}

static int light(const struct command *self, const struct cli *cli, const struct wish *w, double seconds)
{
    struct tc_rig rig = { 0 };
    struct tc_problem why = { "" };
    enum tc_status status = cli_rig(w->rig_path, &rig, &why);
    if (status != TC_OK) return cli_fail(status, &why);
    size_t room = rig.channel_count * (cli->argument_count + 1), *channels = calloc(room, sizeof *channels);
    double *lowest = calloc(room, sizeof *lowest);
    struct hookup_job job = { .channels = channels, .to = w->to, .interface = w->interface, .level = (double)w->level, .seconds = seconds,
                              .find_lowest = w->find_lowest, .lowest = lowest, .tell = tell_channel };
    int exit = channels && lowest ? choose(self, cli, w, &rig, channels, &job.count) : cli_fail(TC_ERR_MEMORY, NULL);
    if (exit == EXIT_DONE) {
        caution_wrap(stderr, caution_text(CAUTION_LIVE), "", "", 90);
        status = hookup_run(&job, &rig, &why);
        for (size_t i = 0; w->find_lowest && i < job.count; i++)
            if (lowest[i] > 0) printf("channel %d: min_level = %g\n", rig.channels[channels[i]].number, lowest[i]);
        if (status == TC_OK && w->save) {
            char plain[512];
            status = save(w, &rig, &job, &why);
            if (status == TC_OK) printf("wrote %s\n", text_plain(plain, sizeof plain, w->save));
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
    struct wish w = { .level = LEVEL_USUAL };
    const struct option_row options[] = {
        { "rig", OPTION_INPUT, &w.rig_path, 0, 0, "FILE", "the rig; its [network] section says where the levels go" },
        { "to", OPTION_TEXT, &w.to, 0, 0, "HOST", "send to this host, or host:port, instead of multicast" },
        { "interface", OPTION_TEXT, &w.interface, 0, 0, "NAME|list", "the network interface for multicast: its name or address; list shows them" },
        { "each", OPTION_FLAG, &w.each, 0, 0, NULL, "every channel of the rig, one after the other" },
        { "seconds", OPTION_TEXT, &w.seconds, 0, 0, "S", "how long each (default: until a key; " IN_HELP(EACH_USUAL_S) " with --each)" },
        { "level", OPTION_WHOLE, &w.level, 1, 100, "PERCENT", "how bright (default " IN_HELP(LEVEL_USUAL) "; never above max_level)" },
        { "find-lowest", OPTION_FLAG, &w.find_lowest, 0, 0, NULL, "fade up slowly; press a key when the lamp first lights" },
        { "save", OPTION_OUTPUT, &w.save, 0, 0, "FILE", "write the rig file there with the min_level found" },
        { "force", OPTION_FLAG, &w.force, 0, 0, NULL, "overwrite an existing --save file" },
        { 0 },
    };
    struct cli cli;
    if (!cli_parse(&cli, self, options, argc, argv)) return cli.exit;
    if (w.interface && !strcmp(w.interface, "list")) {
        struct tc_problem why = { "" };
        enum tc_status status = listing_interfaces(stdout, &why);
        cli_done(&cli);
        return status == TC_OK ? EXIT_DONE : cli_fail(status, &why);
    }
    double seconds = w.each ? EACH_USUAL_S : 0;
    int exit = EXIT_DONE;
    if (!cli.argument_count && !w.each) exit = cli_usage(self, "which channels? Give their numbers or names, or --each");
    else if (cli.argument_count && w.each) exit = cli_usage(self, "give channels or --each, not both");
    else if (w.seconds && (!number_read(w.seconds, &seconds) || seconds < HOOKUP_LEAST_S || seconds > 86400))
        exit = cli_usage(self, "--seconds: '%s' is not a number of seconds from %g to 86400", w.seconds, HOOKUP_LEAST_S);
    else if (w.save && (!w.rig_path || !w.find_lowest))
        exit = cli_usage(self, "--save goes with --find-lowest and --rig: it writes a copy of that file");
    if (exit == EXIT_DONE) exit = light(self, &cli, &w, seconds);
    cli_done(&cli);
    return exit;
}

const struct command command_light = {
    "light", "CHANNEL...", "Light single channels at the hookup, or find a lamp's lowest level", run, 0,
    "A channel is given by its number or its name, and 1-4 means those from 1 to 4",
};
