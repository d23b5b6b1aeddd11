#include "app/show.h"

#include <dirent.h>
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/run_hear.h"
#include "app/live.h"
#include "io/clock.h"
#include "io/light_net.h"
#include "io/sound_kind.h"
#include "io/sound_out.h"
#include "io/read_file.h"
#include "io/source.h"
#include "io/stop.h"
#include "io/terminal.h"
#include "io/trigger.h"
#include "light/audit.h"
#include "rig/rig_slots.h"
#include "words/status.h"
#include "words/text.h"
#include "words/units.h"

enum { PATH_SIZE = 4096, BAR = 20 };
/* Nothing is waited for longer, so that the end is never far. */
#define GLANCE_S 0.02
#define STATUS_S 0.1

struct show {
    const struct show_job *job;
    const struct tc_rig *rig;        /* whose network it is, and whose slots */
    const struct tc_settings *settings;
    struct show_outcome *out;
    struct tc_problem *why;
    char name[256];                  /* of what is played, as it may be shown */
    char frames_path[PATH_SIZE], sound_path[PATH_SIZE];
    const char *sound;               /* NULL: none */
    struct audit audit;
    struct track track;
    double lap_s;
    double before_s;                 /* silence before the sound */
    double offset_s;                 /* light after the sound */
    struct light_net *net;
    struct sound_out *player;
    struct terminal *terminal;
    struct trigger *trigger;
    uint8_t *black;
    double shown_s;
};

static enum tc_status load(struct show *s);
static enum tc_status open_all(struct show *s);
static enum tc_status wait_for_start(struct show *s);
static enum tc_status play_once(struct show *s);
static enum tc_status stay_dark(struct show *s, double seconds, const char *doing);
static void close_all(struct show *s);

/* ---- The story ---- */

enum tc_status show_run(const struct show_job *job, const struct tc_rig *rig, const struct tc_settings *settings,
                        struct show_outcome *out, struct tc_problem *why)
{
    *out = (struct show_outcome){ 0 };
    struct show s = { .job = job, .rig = rig, .settings = settings, .out = out, .why = why };
    enum tc_status status = load(&s);
    if (status == TC_OK) status = open_all(&s);
    if (status == TC_OK) status = wait_for_start(&s);
    while (status == TC_OK) {
        status = play_once(&s);
        if (status != TC_OK || !s.trigger) break;
        status = stay_dark(&s, (double)job->lockout_s, "dark for a while");
        if (status == TC_OK) sound_out_rewind(s.player);
        if (status == TC_OK) status = wait_for_start(&s);
    }
    close_all(&s);
    return status;
}

/* ---- What is played ---- */

static bool ends_with(const char *text, const char *end)
{
    size_t n = strlen(text), m = strlen(end);
    return n > m && text_same(text + n - m, end);
}

static enum tc_status no_memory(struct show *s)
{
    return problem_set(s->why, TC_ERR_MEMORY, "%s", tc_status_text(TC_ERR_MEMORY));
}

/* A sound file with the stem of a frames file: "storm.frames.csv" beside
 * "storm.wav", "clap.wav.frames.csv" beside "clap.wav". */
static bool find_sound(struct show *s)
{
    char stem[PATH_SIZE], folder[PATH_SIZE];
    snprintf(stem, sizeof stem, "%s", s->frames_path);
    size_t n = strlen(stem);
    stem[n - (ends_with(stem, ".frames.csv") ? strlen(".frames.csv") : strlen(".csv"))] = 0;
    if (sound_has_ending(stem)) {
        snprintf(s->sound_path, sizeof s->sound_path, "%s", stem);
        FILE *there = fopen(stem, "rb");
        if (there) fclose(there);
        if (there) return true;
    }
    const char *slash = strrchr(stem, '/'), *name = slash ? slash + 1 : stem;
    snprintf(folder, sizeof folder, "%.*s", slash ? (int)(slash - stem + 1) : 2, slash ? stem : "./");
    struct dirent **entries;
    int count = scandir(folder, &entries, NULL, alphasort);
    bool found = false, foreign = false; /* one that can't be read here only where there is no other */
    for (int i = 0; i < count; i++) {
        const char *file = entries[i]->d_name;
        size_t m = strlen(name);
        bool beside = !strncmp(file, name, m) && file[m] == '.' && !strchr(file + m + 1, '.') && sound_has_ending(file);
        bool readable = beside && !*sound_hint(file, NULL);
        if (beside && (!found || (foreign && readable))) {
            found = snprintf(s->sound_path, sizeof s->sound_path, "%s%s", folder, file) < (int)sizeof s->sound_path;
            foreign = !readable;
        }
        free(entries[i]);
    }
    if (count >= 0) free(entries);
    return found;
}

/* Rows of the audited file, as whole levels of 8 bits. */
struct taking {
    struct show *show;
    enum tc_status status;
    uint16_t *levels;
};

static void take_row(void *user, int64_t at_us, const uint16_t *levels, uint16_t full)
{
    struct taking *t = user;
    struct show *s = t->show;
    const struct tc_rig *rig = &s->audit.rig;
    if (t->status != TC_OK) return;
    if (!t->levels) {
        s->audit.rig.network = s->rig->network; /* columns without a rig have no network of their own */
        t->levels = calloc(rig->channel_count + 1, sizeof *t->levels);
        t->status = t->levels ? track_begin(&s->track, rig) : TC_ERR_MEMORY;
        if (t->status != TC_OK) {
            no_memory(s);
            return;
        }
    }
    for (size_t c = 0; c < rig->channel_count; c++)
        t->levels[c] = (uint16_t)((2 * (uint32_t)levels[c] * TRACK_FULL + full) / (2 * (uint32_t)full));
    t->status = track_add(&s->track, at_us - s->audit.start_us, t->levels, s->why);
}

static enum tc_status load_frames(struct show *s)
{
    char plain[300];
    text_plain(plain, sizeof plain, s->frames_path);
    struct file_text text = { 0 };
    enum tc_status status = file_read(s->frames_path, TC_ERR_READ, &text, s->why);
    if (status != TC_OK) return status;
    struct taking taking = { .show = s };
    struct audit_job job = {
        .name = s->frames_path, .rig = s->job->own_rig ? s->rig : NULL, .perhaps = s->rig, .unit = AUDIT_GUESS,
        .limit = s->settings->flash_limit, .loop = s->settings->loop, .row = take_row, .row_user = &taking,
    };
    status = audit_run(&job, text.bytes, text.size, &s->audit, s->why);
    file_text_free(&text);
    free(taking.levels);
    if (status == TC_OK) status = taking.status;
    const struct audit *a = &s->audit;
    if (status == TC_OK && a->other_table)
        return problem_set(s->why, TC_ERR_FORM, "%s: this is %s; play takes a .frames.csv, a .night.csv or a recording", plain,
                           a->other_table);
    if (status == TC_OK && (!a->rows || a->counts[AUDIT_FORM]))
        return problem_set(s->why, TC_ERR_FORM, "%s: line %ld: %s (thundercue check tells more)", plain,
                           a->counts[AUDIT_FORM] ? a->remarks[AUDIT_FORM][0].line : 1L,
                           a->counts[AUDIT_FORM] ? a->remarks[AUDIT_FORM][0].text : "there are no light frames in it");
    if (status == TC_OK && a->own_rig)
        return problem_set(s->why, TC_ERR_USAGE, "%s: its columns are not those of the built-in rig; give --rig FILE, the one it "
                           "was made with", plain);
    size_t remarks = a->counts[AUDIT_TIME] + a->counts[AUDIT_RANGE] + a->counts[AUDIT_RIG];
    if (status == TC_OK && remarks && !s->job->quiet)
        fprintf(stderr, "thundercue: %s: %zu things to look at; thundercue check lists them\n", plain, remarks);
    if (status == TC_OK) s->lap_s = (double)(a->end_us - a->start_us + (a->rows > 1 ? a->step_us : 0)) / 1e6;
    return status;
}

/* Heard and cued on the spot, limited on the levels that are sent. */
static enum tc_status load_recording(struct show *s)
{
    struct tc_settings settings = *s->settings;
    settings.levels = TC_LEVELS_8BIT;
    struct outcome heard = { 0 };
    struct job job = { .recording = s->job->thing, .events = s->job->events };
    struct run r = { .job = &job, .rig = s->rig, .settings = &settings, .out = &heard, .why = s->why };
    struct tc_player *player = NULL;
    uint16_t *levels = calloc(s->rig->channel_count + 1, sizeof *levels);
    enum tc_status status = levels ? TC_OK : no_memory(s);
    if (status == TC_OK && settings.frame_rate > DMX_PACKETS_MOST)
        status = problem_set(s->why, TC_ERR_USAGE, "frame-rate: %lld is above %d, the most that a light network takes",
                             (long long)settings.frame_rate, DMX_PACKETS_MOST);
    if (status == TC_OK) status = run_hear(&r);
    if (status == TC_OK) status = tc_cue(&r.heard, s->rig, &settings, stop_of_calls(), &r.timeline, s->why);
    if (status == TC_OK && (track_begin(&s->track, s->rig) != TC_OK
                            || tc_player_create(&player, &r.timeline, s->rig, &settings) != TC_OK))
        status = no_memory(s);
    for (int64_t f = 0; status == TC_OK && tc_player_step(player, levels); f++)
        status = track_add(&s->track, frame_us(f, settings.frame_rate), levels, s->why);
    s->lap_s = (double)r.timeline.frames / (double)settings.frame_rate;
    if (*heard.remark.text && !s->job->quiet) fprintf(stderr, "thundercue: %s: %s\n", s->name, heard.remark.text);
    tc_player_destroy(player);
    tc_timeline_clear(&r.timeline);
    tc_analysis_clear(&r.heard);
    outcome_clear(&heard);
    free(levels);
    return status;
}

/* The thing, its light, its sound, and how long a lap of both is. */
static enum tc_status load(struct show *s)
{
    const struct show_job *job = s->job;
    const char *slash = strrchr(job->thing, '/');
    bool frames = ends_with(job->thing, ".csv");
    text_plain(s->name, sizeof s->name, slash ? slash + 1 : job->thing);
    s->sound = frames ? job->sound : job->thing;
    if (frames) {
        static const char night[] = ".night.csv";
        size_t n = strlen(job->thing), cut = ends_with(job->thing, night) ? strlen(night) : 0;
        snprintf(s->frames_path, sizeof s->frames_path, "%.*s%s", (int)(n - cut), job->thing, cut ? ".frames.csv" : "");
        if (!s->sound && !job->no_sound && !find_sound(s))
            return problem_set(s->why, TC_ERR_READ, "%s: no sound of the same name is beside it: give --sound FILE or --no-sound",
                               s->name);
        if (!s->sound) s->sound = s->sound_path;
    }
    if (job->no_sound) s->sound = NULL;
    enum tc_status status = frames ? load_frames(s) : load_recording(s);
    if (status != TC_OK) return status;

    s->offset_s = (double)job->offset_ms / 1000;
    s->before_s = flash_to_bang_s(s->settings->distance_m, s->settings->temperature_c) * (s->settings->distance_m > 0);
    double sound_s = 0;
    if (s->sound) status = sound_length(s->sound, &sound_s, s->why);
    if (status != TC_OK) return status;
    if (sound_s + s->before_s > s->lap_s) s->lap_s = sound_s + s->before_s;
    if (s->settings->loop && s->lap_s < LIVE_LAP_LEAST_S)
        return problem_set(s->why, TC_ERR_FORM, "%s: %.3f s long, which is too short to repeat (--loop)", s->name, s->lap_s);
    status = track_count(&s->track, s->settings->flash_limit, s->settings->loop ? llround(s->lap_s * 1e6) : 0);
    if (status != TC_OK) return no_memory(s);
    s->out->flash = s->track.flash;
    s->out->refused = track_flashes_too_fast(&s->track);
    if (s->out->refused)
        return problem_set(s->why, TC_ERR_USAGE, "%s: %.1f flashes in the second before %.3f s, the limit is %lld: it is not "
                           "played (thundercue check tells more)", s->name, (double)s->track.flash.peak_transitions / 2,
                           (double)s->track.flash.peak_at_ms / 1000, (long long)s->settings->flash_limit);
    return TC_OK;
}

/* ---- Opening and closing ---- */

static enum tc_status open_all(struct show *s)
{
    const struct tc_rig *rig = s->track.rig;
    char name[TC_NAME_SIZE + 20];
    snprintf(name, sizeof name, "thundercue: %s", *rig->name ? rig->name : s->rig->name);
    struct light_wish wish = {
        .to = s->job->to ? s->job->to : s->rig->network.to, .universe = s->rig->network.universe ? s->rig->network.universe : 1,
        .universes = s->track.slots / RIG_UNIVERSE_SLOTS, .priority = s->rig->network.priority, .name = name,
    };
    /* the sound waits for light that is later, and light for sound */
    struct sound_plan plan = { .path = s->sound, .before_s = s->before_s + (s->offset_s < 0 ? -s->offset_s : 0),
                               .lap_s = s->lap_s, .loop = s->settings->loop };
    enum tc_status status = TC_OK;
    s->black = calloc(s->track.slots, 1);
    s->terminal = terminal_open(true);
    if (!s->black || !s->terminal) status = no_memory(s);
    if (status == TC_OK && s->job->trigger) status = trigger_open(&s->trigger, s->job->trigger, s->terminal, s->why);
    if (status == TC_OK) status = light_net_open(&s->net, &wish, s->why);
    if (status == TC_OK) status = sound_out_open(&s->player, &plan, s->why);
    if (status != TC_OK) return status;
    light_net_guard(s->net);
    clock_hurry();
    light_net_send(s->net, s->black, clock_now_s());
    struct light_net_count first = light_net_counts(s->net);
    if (first.failed)
        return problem_set(s->why, TC_ERR_WRITE, "the light network can't be reached: %s", strerror(first.reason));
    const struct show_ready ready = {
        .name = s->name, .seconds = s->lap_s, .to = wish.to, .universe = wish.universe, .universes = wish.universes,
        .terminal = terminal_shows(s->terminal),
    };
    if (s->job->ready) s->job->ready(s->job->user, &ready);
    return TC_OK;
}

static void close_all(struct show *s)
{
    if (s->net) {
        light_net_end(s->net); /* dark first, all else can wait */
        struct light_net_count counts = light_net_counts(s->net);
        s->out->packets = counts.sent;
        s->out->failed = counts.failed;
    }
    sound_out_close(s->player);
    light_net_close(s->net);
    trigger_close(s->trigger);
    terminal_close(s->terminal);
    track_clear(&s->track);
    audit_clear(&s->audit);
    free(s->black);
}

/* ---- While it runs ---- */

/* What ends a show at any time. */
static enum tc_status look_around(struct show *s, double now)
{
    if (light_net_signal() || stop_asked()) return problem_set(s->why, TC_ERR_STOPPED, "stopped");
    return sound_out_lost(s->player, now, s->why) ? TC_ERR_WRITE : TC_OK;
}

static enum tc_status stay_dark(struct show *s, double seconds, const char *doing)
{
    enum tc_status status = TC_OK;
    double now = clock_now_s(), until = now + seconds;
    for (; status == TC_OK && now < until; now = clock_now_s()) {
        light_net_send(s->net, s->black, now);
        terminal_line(s->terminal, doing);
        status = look_around(s, now);
        clock_sleep_until(now + GLANCE_S < until ? now + GLANCE_S : until);
    }
    if (s->trigger) trigger_pulled(s->trigger); /* what was pulled meanwhile does not count */
    return status;
}

/* Black until the trigger is pulled, or until the time of day. A wall clock
 * that is set while we wait (as after a start without a network) counts anew. */
static enum tc_status wait_for_start(struct show *s)
{
    if (!s->trigger && !s->job->at) return TC_OK;
    int day = s->job->at ? trigger_time_of_day(s->job->at) : 0;
    int64_t due = trigger_next(trigger_wall_s(), day);
    double begun = clock_now_s() - (double)trigger_wall_s();
    enum tc_status status = TC_OK;
    while (status == TC_OK) {
        if (s->trigger && trigger_pulled(s->trigger)) return TC_OK;
        int64_t wall = trigger_wall_s();
        if (fabs(clock_now_s() - (double)wall - begun) > 2) {
            begun = clock_now_s() - (double)wall;
            due = trigger_next(wall, day);
        }
        if (!s->trigger && wall >= due) return TC_OK;
        double now = clock_now_s();
        light_net_send(s->net, s->black, now);
        terminal_line(s->terminal, s->trigger ? "dark, waiting for the trigger" : "dark, waiting for the time");
        status = look_around(s, now);
        clock_sleep_until(now + GLANCE_S);
    }
    return status;
}

/* "0:12.3 of 0:33.0  storm.flac  [####      ]  2 late" */
static void show_status(struct show *s, const struct live *l, double now, double show_s, uint8_t bright)
{
    if (!terminal_shows(s->terminal) || now - s->shown_s < STATUS_S) return;
    s->shown_s = now;
    char line[360], bar[BAR + 1];
    for (int i = 0; i < BAR; i++) bar[i] = i * 255 < bright * BAR ? '#' : ' ';
    bar[BAR] = 0;
    struct light_net_count counts = light_net_counts(s->net);
    double in_lap = show_s - (double)l->lap * s->lap_s;
    int used = snprintf(line, sizeof line, "%d:%04.1f of %d:%04.1f  %.60s", (int)(fmax(in_lap, 0) / 60), fmod(fmax(in_lap, 0), 60),
                        (int)(s->lap_s / 60), fmod(s->lap_s, 60), s->name);
    if (l->loop) used += snprintf(line + used, sizeof line - (size_t)used, ", lap %lld", (long long)l->lap + 1);
    snprintf(line + used, sizeof line - (size_t)used, "  [%s]  %llu packets, %llu late%s%s", bar,
             (unsigned long long)counts.sent, (unsigned long long)s->out->late, counts.failed ? ", NOT ALL SENT" : "",
             l->stalled ? "  NO SOUND: DARK" : "");
    terminal_line(s->terminal, line);
}

/* The second of the light's own time that is due now. */
static double light_time(struct show *s, double now)
{
    double heard = sound_out_heard_s(s->player, now);
    if (s->offset_s > 0) return heard - s->offset_s;
    return heard;
}

static enum tc_status play_once(struct show *s)
{
    struct live l;
    if (live_begin(&l, &s->track, s->lap_s, s->settings->loop) != TC_OK) return no_memory(s);
    sound_out_start(s->player);
    s->out->shows++;
    enum tc_status status = TC_OK;
    while (status == TC_OK && !l.ended) {
        double now = clock_now_s(), show_s = light_time(s, now);
        struct live_news news = live_step(&l, now, show_s);
        if (news.fresh || now >= light_net_due_s(s->net)) light_net_send(s->net, l.slots, now);
        if (news.fresh && !l.stalled) {
            s->out->frames++;
            s->out->late += news.late_s > LATE_S;
            if (news.late_s > s->out->latest_s) s->out->latest_s = news.late_s;
        }
        show_status(s, &l, now, show_s, news.bright);
        status = look_around(s, now);
        clock_sleep_until(now + (news.wait_s < GLANCE_S ? news.wait_s : GLANCE_S));
    }
    live_clear(&l);
    return status;
}
