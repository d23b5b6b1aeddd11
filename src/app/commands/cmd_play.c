/* thundercue play: sound and light, live. */
#include <stdio.h>
#include <string.h>

#include "app/commands/commands.h"
#include "app/live/show.h"
#include "app/report/cautions.h"
#include "app/report/listings.h"
#include "io/network/light_guard.h"
#include "io/process/time_of_day.h"
#include "words/numbers.h"
#include "words/settings.h"
#include "words/text.h"

/* What the words before the first light are about. */
struct announcement {
    const struct cli *cli;
    const struct show_job *job;
};

/* Before the first light: the cautions and, where no line of status will tell it, what is played, and when. */
static void print_ready(void *user, const struct show_ready *r)
{
    const struct announcement *t = user;
    const struct cli *cli = t->cli;
    caution_wrap(stderr, caution_text(CAUTION_FLASHING), "", "", 90);
    caution_wrap(stderr, caution_text(CAUTION_LIVE), "", "", 90);
    if (!cli->settings.flash_limit) caution_wrap(stderr, caution_text(CAUTION_LIMIT_OFF), "", "", 90);
    if (r->terminal) return;
    char plain[280];
    if (t->job->at) fprintf(stderr, "waiting until %s to play ", t->job->at);
    else if (t->job->trigger)
        fprintf(stderr, "waiting for %s to play ", text_plain(plain, sizeof plain, t->job->trigger));
    else fputs("playing ", stderr);
    fprintf(stderr, "%s, %.1f s, ", r->name, r->seconds);
    if (r->to && *r->to) fprintf(stderr, "to %s", text_plain(plain, sizeof plain, r->to));
    else fputs("by multicast", stderr);
    if (r->universes == 1) fprintf(stderr, ", universe %d\n", r->universe);
    else fprintf(stderr, ", universes %d to %d\n", r->universe, r->universe + (int)r->universes - 1);
}

static void print_summary(const struct show_outcome *out)
{
    printf("levels sent in %llu packets (unchanged frames are not repeated); ", (unsigned long long)out->packets);
    if (!out->late) puts("none late");
    else printf("%llu of %llu light frames more than %.0f ms late, the latest %.1f ms\n", (unsigned long long)out->late,
                (unsigned long long)out->frames, 1000 * LATE_S, 1000 * out->latest_s);
    if (out->failed) printf("%llu packets could not be sent\n", (unsigned long long)out->failed);
    if (out->fell_silent)
        puts("the recording was removed or replaced during the show: what followed was without sound");
}

static int check_job(const struct command *self, const struct cli *cli, const struct show_job *job)
{
    if (cli->argument_count != 1) return cli_usage(self, "give one recording, frames.csv or night.csv");
    if (!strcmp(cli->arguments[0], "-")) return cli_usage(self, "standard input can't be played: give a file");
    if (job->at && time_of_day_read(job->at) < 0)
        return cli_usage(self, "--at: '%s' is not a time of day like 19:30", job->at);
    if (job->at && job->trigger) return cli_usage(self, "give --at or --trigger, not both");
    if (job->sound_device && job->no_sound) return cli_usage(self, "give --sound-device or --no-sound, not both");
    if (job->trigger && cli->settings.loop) return cli_usage(self, "give --loop or --trigger, not both");
    return EXIT_DONE;
}

static int play(struct cli *cli, struct show_job *job, const char *rig_path)
{
    struct tc_rig rig = { 0 };
    struct tc_problem why = { "" };
    struct show_outcome out = { 0 };
    job->own_rig = rig_path != NULL;
    enum tc_status status = cli_rig(rig_path, &rig, &why);
    if (status != TC_OK) return cli_fail(status, &why);
    struct announcement said = { .cli = cli, .job = job };
    if (!job->quiet) job->ready = print_ready, job->user = &said;
    status = show_run(job, &rig, &cli->settings, &out, &why);
    tc_rig_clear(&rig);
    if (out.shows && !job->quiet) print_summary(&out);
    if (status == TC_OK) return out.failed || out.fell_silent ? EXIT_FINDINGS : EXIT_DONE;
    int exit = cli_fail(status, &why);
    if (out.refused) return EXIT_FINDINGS;
    return status == TC_ERR_STOPPED && light_guard_signal() ? EXIT_SIGNALLED + light_guard_signal() : exit;
}

static bool is_list(const char *word)
{
    return word && !strcmp(word, "list");
}

/* True if a list was asked for instead of a show. */
static bool print_lists(const struct show_job *job, int *exit)
{
    struct tc_problem why = { "" };
    if (!is_list(job->sound_device) && !is_list(job->interface)) return false;
    enum tc_status status = is_list(job->sound_device) ? listing_sound_cards(stdout, &why) : TC_OK;
    if (status == TC_OK && is_list(job->interface)) status = listing_interfaces(stdout, &why);
    *exit = status == TC_OK ? EXIT_DONE : cli_fail(status, &why);
    return true;
}

static int run(const struct command *self, int argc, char **argv)
{
    struct show_job job = { .lockout_s = LOCKOUT_USUAL_S };
    const char *rig_path = NULL, *offset = NULL;
    const struct option_row options[] = {
        { "rig", OPTION_INPUT, &rig_path, 0, 0, "FILE", "the rig; its [network] section says where the levels go" },
        ROW_TO(&job.to),
        ROW_INTERFACE(&job.interface),
        { "sound", OPTION_INPUT, &job.sound, 0, 0, "FILE", "the sound of a frames.csv (default: the one beside it)" },
        { "sound-device", OPTION_TEXT, &job.sound_device, 0, 0, "NAME|list",
          "the sound card: its name, a part of it, or its number; list shows them" },
        { "no-sound", OPTION_FLAG, &job.no_sound, 0, 0, NULL, "light alone, by the machine's own clock" },
        ROW_EVENTS(&job.events),
        { "offset", OPTION_TEXT, &offset, 0, 0, "MS",
          "delay the light against the sound by this much; below 0 it comes earlier" },
        { "at", OPTION_TEXT, &job.at, 0, 0, "HH:MM", "start at this time of day; dark until then" },
        { "trigger", OPTION_TEXT, &job.trigger, 0, 0, "key|udp:PORT|file:PATH",
          "play once each time: at a key, a datagram, a touch of a file" },
        { "lockout", OPTION_WHOLE, &job.lockout_s, LOCKOUT_LEAST_S, 86400, "S",
          "seconds of dark after a show before a trigger counts again (default " IN_HELP(LOCKOUT_USUAL_S) ")" },
        { "quiet", OPTION_FLAG, &job.quiet, 0, 0, NULL, "no cautions, no summary" },
        { 0 },
    };
    struct cli cli;
    if (!cli_parse(&cli, self, options, argc, argv)) return cli.exit;
    int exit = EXIT_DONE;
    if (print_lists(&job, &exit)) {
        cli_done(&cli);
        return exit;
    }
    exit = check_job(self, &cli, &job);
    double ms = 0;
    if (exit == EXIT_DONE && offset && (!number_read(offset, &ms) || ms < -OFFSET_MOST_MS || ms > OFFSET_MOST_MS))
        exit = cli_usage(self, "--offset: '%s' is not a number of milliseconds from -%d to %d", offset, OFFSET_MOST_MS,
                         OFFSET_MOST_MS);
    job.offset_ms = (int64_t)ms;
    job.thing = cli.argument_count ? cli.arguments[0] : NULL;
    cli.settings.from_s = cli.settings.to_s = cli.settings.shift_s = 0;
    if (exit == EXIT_DONE) exit = play(&cli, &job, rig_path);
    cli_done(&cli);
    return exit;
}

const struct command command_play = {
    "play", "THING", "Play a storm live: sound on the card, light over the network (E1.31)", run,
    SETTING_HEARING | SETTING_FRAMES | SETTING_CUEING | SETTING_FLASHES,
    "All of a recording is played, from its beginning: the settings from, to and shift don't apply here,\n"
    "nor in a settings file",
};
