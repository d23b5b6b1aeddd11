#include "app/live/show_load.h"

#include <dirent.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "app/clip/run_hear.h"
#include "app/live/live.h"
#include "app/night/night_order.h"
#include "app/report/other_tables.h"
#include "io/files/ledger.h"
#include "io/files/long_text.h"
#include "io/network/light_net.h"
#include "io/process/stop.h"
#include "io/sound/sound_feed.h"
#include "io/sound/sound_kind.h"
#include "words/status.h"
#include "words/text.h"
#include "words/units.h"

/* What the loading holds while it is at work. */
struct loading {
    const struct show_job *job;
    const struct tc_rig *rig;
    const struct tc_settings *settings;
    struct show_thing *thing;
    struct tc_problem *why;
    char frames_path[SHOW_PATH_SIZE];
};

static enum tc_status no_memory(struct loading *l)
{
    return problem_say(l->why, TC_ERR_MEMORY);
}

static bool ends_with(const char *text, const char *end)
{
    size_t n = strlen(text), m = strlen(end);
    return n > m && text_same(text + n - m, end);
}

/* A sound file with the stem of a frames file: "storm.frames.csv" beside
 * "storm.wav", "clap.wav.frames.csv" beside "clap.wav". Refuses where there are
 * several: an older one would play as well. */
static enum tc_status find_sound(struct loading *l)
{
    char stem[SHOW_PATH_SIZE], folder[SHOW_PATH_SIZE], sounds[2][256];
    struct stat st;
    snprintf(stem, sizeof stem, "%s", l->frames_path);
    const char *ending = run_file(RUN_FRAMES)->ending;
    stem[strlen(stem) - strlen(ends_with(stem, ending) ? ending : ".csv")] = 0;
    snprintf(l->thing->sound_path, sizeof l->thing->sound_path, "%s", stem);
    if (sound_has_ending(stem) && !stat(stem, &st)) return TC_OK;
    const char *slash = strrchr(stem, '/'), *name = slash ? slash + 1 : stem;
    snprintf(folder, sizeof folder, "%.*s", slash ? (int)(slash - stem + 1) : 2, slash ? stem : "./");
    struct dirent **entries;
    int count = scandir(folder, &entries, NULL, alphasort);
    size_t found[2] = { 0 }; /* those that can be read here, and foreign ones, which count only
                                where there is no other */
    for (int i = 0; i < count; i++) {
        const char *file = entries[i]->d_name;
        size_t m = strlen(name);
        bool beside = !strncmp(file, name, m) && file[m] == '.' && !strchr(file + m + 1, '.') && sound_has_ending(file);
        bool foreign = beside && *sound_hint(file, NULL);
        if (beside && found[foreign] < 2 && !(foreign && found[false])) {
            snprintf(sounds[found[foreign]], sizeof *sounds, "%s", file);
            if (!found[foreign] && snprintf(l->thing->sound_path, sizeof l->thing->sound_path, "%s%s", folder,
                                            file) >= SHOW_PATH_SIZE)
                beside = false;
        }
        if (beside) found[foreign]++;
        free(entries[i]);
    }
    if (count >= 0) free(entries);
    if (found[false] + found[true] == 0)
        return problem_set(l->why, TC_ERR_READ,
                           "%s: no sound of the same name is beside it: give --sound FILE or --no-sound",
                           l->thing->name);
    if (found[false] == 1 || (!found[false] && found[true] == 1)) return TC_OK;
    char one[280], other[280];
    return problem_set(l->why, TC_ERR_USAGE,
                       "%s: several sounds of the same name are beside it, such as %s and %s: say with "
                       "--sound FILE which one the light goes with", l->thing->name,
                       text_plain(one, sizeof one, sounds[0]),
                       text_plain(other, sizeof other, sounds[1]));
}

/* A running order that someone has changed after its light was made: that is still the old evening. */
static bool edited_since(const char *order, const char *frames)
{
    struct stat ordered, made;
    struct ledger *ledger = NULL;
    struct tc_problem ignored;
    const char *slash = strrchr(order, '/');
    if (stat(order, &ordered) || stat(frames, &made)) return false;
    if (ordered.st_mtim.tv_sec < made.st_mtim.tv_sec) return false;
    if (ordered.st_mtim.tv_sec == made.st_mtim.tv_sec && ordered.st_mtim.tv_nsec <= made.st_mtim.tv_nsec) return false;
    char *folder = slash ? strndup(order, (size_t)(slash - order) + 1) : strdup(".");
    bool edited = folder && ledger_open(&ledger, folder, &ignored) == TC_OK
        && ledger_look(ledger, order) == LEDGER_EDITED;
    ledger_close(ledger);
    free(folder);
    return edited;
}

/* Rows of the audited file, as whole levels of 8 bits. */
struct taking {
    struct loading *loading;
    enum tc_status status;
    uint16_t *levels;
};

static void take_row(void *user, int64_t at_us, const uint16_t *levels, uint16_t full)
{
    struct taking *t = user;
    struct loading *l = t->loading;
    const struct tc_rig *rig = &l->thing->audit.rig;
    if (t->status != TC_OK) return;
    if (!t->levels) {
        l->thing->audit.rig.network = l->rig->network; /* columns without a rig have no network of their own */
        t->levels = calloc(rig->channel_count + 1, sizeof *t->levels);
        t->status = t->levels ? track_begin(&l->thing->track, rig) : TC_ERR_MEMORY;
        if (t->status != TC_OK) {
            no_memory(l);
            return;
        }
    }
    for (size_t c = 0; c < rig->channel_count; c++)
        t->levels[c] = (uint16_t)((2 * (uint32_t)levels[c] * TRACK_FULL + full) / (2 * (uint32_t)full));
    t->status = track_add(&l->thing->track, at_us - l->thing->audit.start_us, t->levels, l->why);
}

/* Made for another rig: the wrong lamps would light. */
static enum tc_status refuse_misfit(struct loading *l, const char *shown)
{
    const struct audit_remark *m = &l->thing->audit.misfit;
    char column[32] = "", rig[100];
    if (m->column) snprintf(column, sizeof column, ", column %zu", m->column);
    return problem_set(l->why, TC_ERR_USAGE,
                       "%s: it was made with another rig than \"%s\": line %ld%s: %s; give --rig FILE, "
                       "the one it was made with", shown, text_plain(rig, sizeof rig, l->rig->name), m->line, column,
                       m->text);
}

static enum tc_status load_frames(struct loading *l)
{
    char plain[300];
    text_plain(plain, sizeof plain, l->frames_path);
    struct long_text text = { 0 };
    enum tc_status status = long_text_open(&text, l->frames_path, TC_ERR_READ, l->why);
    if (status != TC_OK) return status;
    struct taking taking = { .loading = l };
    struct audit_job job = {
        .name = l->frames_path, .rig = l->job->own_rig ? l->rig : NULL, .perhaps = l->rig, .unit = AUDIT_GUESS,
        .limit = l->settings->flash_limit, .loop = l->settings->loop, .row = take_row, .row_user = &taking,
        .others = other_tables, .watch = stop_of_calls(),
    };
    status = audit_run_text(&job, &text.text, &l->thing->audit, l->why);
    if (status == TC_OK) status = long_text_result(&text, l->frames_path, TC_ERR_READ, l->why);
    long_text_close(&text);
    free(taking.levels);
    if (status == TC_OK) status = taking.status;
    const struct audit *a = &l->thing->audit;
    if (status == TC_OK && a->other_table)
        return problem_set(l->why, TC_ERR_FORM, "%s: this is %s; play takes a .frames.csv, a .night.csv or a recording",
                           plain,
                           a->other_table);
    if (status == TC_OK && (!a->rows || a->counts[AUDIT_FORM]))
        return problem_set(l->why, TC_ERR_FORM, "%s: line %ld: %s (thundercue check tells more)", plain,
                           a->counts[AUDIT_FORM] ? a->remarks[AUDIT_FORM][0].line : 1L,
                           a->counts[AUDIT_FORM] ? a->remarks[AUDIT_FORM][0].text : "there are no light frames in it");
    if (status == TC_OK && a->own_rig)
        return problem_set(l->why, TC_ERR_USAGE,
                           "%s: its columns are not those of the built-in rig; give --rig FILE, the one it "
                           "was made with", plain);
    if (status == TC_OK && *a->misfit.text) return refuse_misfit(l, plain);
    size_t remarks = a->counts[AUDIT_TIME] + a->counts[AUDIT_RANGE] + a->counts[AUDIT_RIG];
    if (status == TC_OK && remarks && !l->job->quiet)
        fprintf(stderr, "thundercue: %s: %zu things to look at; thundercue check lists them\n", plain, remarks);
    if (status == TC_OK) l->thing->lap_s = (double)(a->end_us - a->start_us + (a->rows > 1 ? a->step_us : 0)) / 1e6;
    return status;
}

/* A timeline of the recording is there, and is not what is played. */
static void tell_of_frames(struct loading *l)
{
    struct stat st;
    char plain[300];
    const char *slash = strrchr(l->job->thing, '/'), *name = slash ? slash + 1 : l->job->thing,
        *dot = strrchr(name, '.');
    size_t n = dot && dot > name ? (size_t)(dot - l->job->thing) : strlen(l->job->thing);
    snprintf(l->frames_path, sizeof l->frames_path, "%.*s%s", (int)n, l->job->thing, run_file(RUN_FRAMES)->ending);
    if (l->job->quiet || stat(l->frames_path, &st)) return;
    fprintf(stderr, "thundercue: note: %s is heard and cued anew; for the light that is in %s, play that\n",
            l->thing->name,
            text_plain(plain, sizeof plain, l->frames_path));
}

/* Heard and cued on the spot, limited on the levels that are sent. */
static enum tc_status load_recording(struct loading *l)
{
    struct tc_settings settings = *l->settings;
    settings.levels = TC_LEVELS_8BIT;
    struct outcome heard = { 0 };
    struct job job = { .recording = l->job->thing, .events = l->job->events };
    struct run r = { .job = &job, .rig = l->rig, .settings = &settings, .out = &heard, .why = l->why };
    struct tc_player *player = NULL;
    uint16_t *levels = calloc(l->rig->channel_count + 1, sizeof *levels);
    enum tc_status status = levels ? TC_OK : no_memory(l);
    if (status == TC_OK && settings.frame_rate > DMX_PACKETS_MOST)
        status = problem_set(l->why, TC_ERR_USAGE, "frame-rate: %lld is above %d, the most that a light network takes",
                             (long long)settings.frame_rate, DMX_PACKETS_MOST);
    if (status == TC_OK) tell_of_frames(l);
    if (status == TC_OK) status = run_hear(&r);
    if (status == TC_OK) status = run_cue(&r);
    if (status == TC_OK && track_begin(&l->thing->track, l->rig) != TC_OK) status = no_memory(l);
    if (status == TC_OK) status = tc_player_create(&player, &r.timeline, l->rig, &settings, l->why);
    for (int64_t f = 0; status == TC_OK && tc_player_step(player, levels); f++)
        status = track_add(&l->thing->track, frame_us(f, settings.frame_rate), levels, l->why);
    l->thing->lap_s = (double)r.timeline.frames / (double)settings.frame_rate;
    if (*heard.remark.text && !l->job->quiet)
        fprintf(stderr, "thundercue: %s: %s\n", l->thing->name, heard.remark.text);
    tc_player_destroy(player);
    run_end(&r);
    outcome_clear(&heard);
    free(levels);
    return status;
}

/* The thing by its name: the recording itself, or the frames file and the sound beside it. */
static enum tc_status find_files(struct loading *l, bool *frames)
{
    const struct show_job *job = l->job;
    struct show_thing *t = l->thing;
    const char *slash = strrchr(job->thing, '/');
    text_plain(t->name, sizeof t->name, slash ? slash + 1 : job->thing);
    *frames = ends_with(job->thing, ".csv");
    t->sound = *frames ? job->sound : job->thing;
    if (*frames) {
        size_t n = strlen(job->thing), cut = ends_with(job->thing, NIGHT_ORDER_ENDING) ? strlen(NIGHT_ORDER_ENDING) : 0;
        snprintf(l->frames_path, sizeof l->frames_path, "%.*s%s", (int)(n - cut), job->thing,
                 cut ? run_file(RUN_FRAMES)->ending : "");
        if (cut && edited_since(job->thing, l->frames_path)) {
            char light[300];
            return problem_set(l->why, TC_ERR_USAGE,
                               "%s: was edited after the evening was built; build it again (thundercue night "
                               "FOLDER --order ... --force), or play %s to have it as it was", t->name,
                               text_plain(light, sizeof light, l->frames_path));
        }
        if (!t->sound && !job->no_sound) {
            enum tc_status status = find_sound(l);
            if (status != TC_OK) return status;
        }
        if (!t->sound) t->sound = t->sound_path;
    }
    if (job->no_sound) t->sound = NULL;
    return TC_OK;
}

/* A lap lasts as long as the light or the sound, whichever ends later. */
static enum tc_status measure_lap(struct loading *l)
{
    struct show_thing *t = l->thing;
    const struct tc_settings *s = l->settings;
    double sound_s = 0;
    t->before_s = flash_to_bang_s(s->distance_m, s->temperature_c) * (s->distance_m > 0);
    enum tc_status status = t->sound ? sound_length(t->sound, &sound_s, l->why) : TC_OK;
    if (status != TC_OK) return status;
    t->lap_s = fmax(t->lap_s, sound_s + t->before_s);
    if (s->loop && t->lap_s < LIVE_LAP_LEAST_S)
        return problem_set(l->why, TC_ERR_FORM, "%s: %.3f s long, which is too short to repeat (--loop)", t->name,
                           t->lap_s);
    return TC_OK;
}

static enum tc_status count_flashes(struct loading *l)
{
    struct show_thing *t = l->thing;
    const struct tc_settings *s = l->settings;
    if (track_count(&t->track, s->flash_limit, s->loop ? llround(t->lap_s * 1e6) : 0) != TC_OK) return no_memory(l);
    t->refused = track_flashes_too_fast(&t->track);
    if (!t->refused) return TC_OK;
    return problem_set(l->why, TC_ERR_USAGE,
                       "%s: %.1f flashes in the second before %.3f s, the limit is %lld: it is not "
                       "played (thundercue check tells more)", t->name, (double)t->track.flash.peak_transitions / 2,
                       (double)t->track.flash.peak_at_ms / 1000, (long long)s->flash_limit);
}

enum tc_status show_load(struct show_thing *out, const struct show_job *job, const struct tc_rig *rig,
                         const struct tc_settings *s, struct tc_problem *why)
{
    bool frames;
    struct loading l = { .job = job, .rig = rig, .settings = s, .thing = out, .why = why };
    *out = (struct show_thing){ .sound = NULL };
    enum tc_status status = find_files(&l, &frames);
    if (status == TC_OK) status = frames ? load_frames(&l) : load_recording(&l);
    if (status == TC_OK) status = measure_lap(&l);
    if (status == TC_OK) status = count_flashes(&l);
    return status;
}

void show_thing_clear(struct show_thing *t)
{
    track_clear(&t->track);
    audit_clear(&t->audit);
}
