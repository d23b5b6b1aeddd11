#include "app/night/night.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "app/clip/run_names.h"
#include "app/clip/run_write.h"
#include "app/night/night_find.h"
#include "app/night/night_hear.h"
#include "app/night/night_join.h"
#include "app/night/night_order.h"
#include "app/night/night_page.h"
#include "app/night/night_report.h"
#include "app/night/night_sound.h"
#include "io/files/outfile.h"
#include "io/files/read_file.h"
#include "io/files/stream.h"
#include "words/status.h"
#include "words/text.h"

/* What the story holds while it is told. */
struct night {
    const struct night_job *job;
    const struct tc_rig *rig;
    struct tc_settings *settings;
    bool own_seed;                /* the user gave one: it goes before the order's */
    struct night_outcome *out;
    struct tc_problem *why;
    struct night_list list;       /* the recordings as plan and order take them */
    const char **files;
    struct night_clip *clips;
    double *gains, *gains_most;
    struct outfile *more[RUN_MORE]; /* the sound, the order */
};

static enum tc_status check_order(struct night *n);
static enum tc_status name_outputs(struct night *n);
static enum tc_status plan(struct night *n);
static enum tc_status open_and_write_sound(struct night *n);
static enum tc_status write_order(struct night *n);
static enum tc_status cue_and_write(struct night *n);
static void release(struct night *n);

enum tc_status night_run(const struct night_job *job, const struct tc_rig *rig, struct tc_settings *s,
                         bool own_seed, struct night_outcome *out, struct tc_problem *why)
{
    *out = (struct night_outcome){ .day_s = job->day_s, .order_day_s = NIGHT_NO_DAY };
    struct night n = { .job = job, .rig = rig, .settings = s, .own_seed = own_seed, .out = out, .why = why };
    enum tc_status status = tc_settings_check(s, why);
    if (status == TC_OK) status = night_find(job, out, why);
    if (status == TC_OK) status = check_order(&n);
    if (status == TC_OK) status = name_outputs(&n);
    if (status == TC_OK) status = night_hear(job, rig, s, out, why);
    if (status == TC_OK) status = plan(&n);
    if (status == TC_OK) status = open_and_write_sound(&n);
    if (status == TC_OK) status = write_order(&n);
    if (status == TC_OK) status = cue_and_write(&n);
    release(&n);
    return status;
}

static enum tc_status no_memory(struct night *n)
{
    return problem_say(n->why, TC_ERR_MEMORY);
}

/* ---- Names ---- */

static char *add_ending(const char *name, const char *ending)
{
    size_t room = strlen(name) + strlen(ending) + 1;
    char *path = calloc(1, room);
    if (path) snprintf(path, room, "%s%s", name, ending);
    return path;
}

static char *add_form(const char *name, enum joined_form form)
{
    char ending[16];
    snprintf(ending, sizeof ending, ".%s", joined_endings[form]);
    return add_ending(name, ending);
}

/* Two sounds of one name: nobody could tell which the light goes with. */
static enum tc_status refuse_second_sound(struct night *n)
{
    enum tc_status status = TC_OK;
    char plain[300], fresh[300];
    struct stat st;
    for (int i = 0; i < JOINED_FORMS && status == TC_OK; i++) {
        char *path = i == (int)n->job->form ? NULL : add_form(n->job->out, (enum joined_form)i);
        if (path && !stat(path, &st))
            status = problem_set(n->why, TC_ERR_EXISTS,
                                 "%s: would stay beside the new %s and no longer fit the light; if it is of "
                                 "an earlier build, delete it or build with "
                                 "--sound-format %s, else give --out another name",
                                 text_plain(plain, sizeof plain, path),
                                 text_plain(fresh, sizeof fresh, n->out->sound_path),
                                 joined_endings[i]);
        free(path);
    }
    return status;
}

static enum tc_status name_outputs(struct night *n)
{
    struct night_outcome *o = n->out;
    const char *name = n->job->out, *slash = strrchr(name, '/');
    o->folder = slash ? strndup(name, (size_t)(slash - name) + (slash == name)) : strdup(".");
    o->stem = strdup(slash ? slash + 1 : name);
    o->sound_path = add_form(name, n->job->form);
    o->order_path = add_ending(name, NIGHT_ORDER_ENDING);
    if (!o->folder || !o->stem || !o->sound_path || !o->order_path) return no_memory(n);
    o->job = (struct job){ .recording = o->sound_path, .stem = o->stem, .out_dir = o->folder,
                           .rig_path = n->job->rig_path,
                           .inputs = n->job->inputs, .over = n->job->over, .preview = n->job->preview,
                           .json = n->job->json };
    if (inputs_same(o->order_path, n->job->order)) {
        free(o->order_path); /* built from again: it stays as its editor left it */
        o->order_path = NULL;
    }
    const struct run_extra evening = { .of = o };
    struct run r = { .job = &o->job, .rig = n->rig, .settings = n->settings, .out = &o->light, .why = n->why,
                     .extra = &evening };
    enum tc_status status = run_name_files(&r);
    if (status == TC_OK) status = run_check_more(&r, o->sound_path);
    if (status == TC_OK && o->order_path) status = run_check_more(&r, o->order_path);
    if (status == TC_OK) status = refuse_second_sound(n);
    if (status == TC_OK && (inputs_same(n->job->json, o->sound_path) || inputs_same(n->job->json, o->order_path)))
        status = problem_set(n->why, TC_ERR_USAGE, "--json: %s is written by this run already; give another name",
                             n->job->json);
    return status;
}

/* ---- Who plays when ---- */

static enum tc_status list_recordings(struct night *n)
{
    size_t count = n->out->recording_count;
    n->files = calloc(count + 1, sizeof *n->files);
    n->clips = calloc(count + 1, sizeof *n->clips);
    n->gains = calloc(count + 1, sizeof *n->gains);
    n->gains_most = calloc(count + 1, sizeof *n->gains_most);
    if (!n->files || !n->clips || !n->gains || !n->gains_most) return no_memory(n);
    size_t kept = 0;
    for (size_t i = 0; i < count; i++) {
        if (n->out->recordings[i].status != TC_OK) continue;
        struct night_recording r = n->out->recordings[i]; /* those that were heard come first */
        n->out->recordings[i] = n->out->recordings[kept];
        n->out->recordings[kept] = r;
        n->files[kept] = r.file;
        n->clips[kept] = (struct night_clip){ r.heard.length_ms, night_nearness(&r.heard) };
        n->gains[kept] = r.gain_db;
        n->gains_most[kept++] = r.gain_most_db;
    }
    n->list = (struct night_list){ n->files, n->clips, n->gains, n->gains_most, kept };
    return TC_OK;
}

static enum tc_status find_named(struct night *n, const char *option, const char *file, size_t *clip)
{
    char text[500];
    *clip = NIGHT_NO_CLIP;
    if (!file || night_list_find(&n->list, file, clip, text, sizeof text)) return TC_OK;
    return problem_set(n->why, TC_ERR_USAGE, "--%s: %s", option, text);
}

/* Whether the evening holds what it must: the clips that were asked for, or at least one. */
static enum tc_status check_room(struct night *n, const struct night_wish *w)
{
    const struct night_plan *p = &n->out->plan;
    const size_t asked[] = { w->opening, w->closing };
    const char *option = n->out->day_s != NIGHT_NO_DAY ? "start and --end" : "length";
    const char *quiet = w->quiet_to_ms > w->quiet_from_ms ? " outside the quiet hours" : "";
    char names[400] = "", plain[150];
    size_t size = 0, shortest = 0;
    bool fits = p->count > 0;
    for (size_t i = 0; i < sizeof asked / sizeof *asked; i++) {
        if (asked[i] == NIGHT_NO_CLIP) continue;
        fits = fits && p->turns[i ? p->count - 1 : 0].clip == asked[i];
        size += (size_t)snprintf(names + size, sizeof names - size, "%s%s (%.1f s)", size ? " and " : "",
                                 text_plain(plain, sizeof plain, n->files[asked[i]]),
                                 (double)n->clips[asked[i]].length_ms / 1000);
    }
    if (fits) return TC_OK;
    for (size_t i = 1; i < n->list.count; i++)
        if (n->clips[i].length_ms < n->clips[shortest].length_ms) shortest = i;
    if (size)
        return problem_set(n->why, TC_ERR_USAGE, "--%s: %s is too short to hold %s%s", option,
                           NIGHT_CLOCK(w->length_ms, NIGHT_NO_DAY), names, quiet);
    return problem_set(n->why, TC_ERR_USAGE,
                       "--%s: %s is too short for any of the clips%s; the shortest is %s (%.1f s)", option,
                       NIGHT_CLOCK(w->length_ms, NIGHT_NO_DAY), quiet,
                       text_plain(plain, sizeof plain, n->files[shortest]),
                       (double)n->clips[shortest].length_ms / 1000);
}

static enum tc_status make_plan(struct night *n)
{
    struct night_wish wish = n->job->wish;
    struct night_plan *p = &n->out->plan;
    wish.seed = (uint64_t)n->settings->seed;
    enum tc_status status = find_named(n, "opening", n->job->opening, &wish.opening);
    if (status == TC_OK) status = find_named(n, "closing", n->job->closing, &wish.closing);
    if (status != TC_OK) return status;
    if (night_plan_make(p, &wish, n->clips, n->list.count) != TC_OK) return no_memory(n);
    for (size_t i = 0; i < p->count; i++) p->turns[i].gain_db = n->gains[p->turns[i].clip];
    return check_room(n, &wish);
}

static enum tc_status read_order_of(struct night *n, const struct night_list *list, struct night_plan *plan,
                                    struct night_ground *ground)
{
    struct file_text text;
    enum tc_status status = file_read(n->job->order, TC_ERR_FORM, &text, n->why);
    if (status != TC_OK) return status;
    status = night_order_read(text.bytes, text.size, n->job->order, list, plan, ground, n->why);
    file_text_free(&text);
    return status;
}

/* What is wrong with an order is told before anything is heard, as far as that needs no lengths. */
static enum tc_status check_order(struct night *n)
{
    size_t count = n->out->recording_count;
    if (!n->job->order) return TC_OK;
    const char **files = calloc(count + 1, sizeof *files);
    struct night_clip *clips = calloc(count + 1, sizeof *clips);
    double *gains = calloc(count + 1, sizeof *gains), *most = calloc(count + 1, sizeof *most);
    struct night_plan plan = { 0 };
    struct night_ground ground = { .seed = n->settings->seed, .day_s = n->out->day_s };
    for (size_t i = 0; files && clips && most && i < count; i++) {
        files[i] = n->out->recordings[i].file;
        clips[i].length_ms = 1;
        most[i] = HUGE_VAL;
    }
    const struct night_list list = { files, clips, gains, most, count };
    enum tc_status status = files && clips && gains && most ? read_order_of(n, &list, &plan, &ground) : no_memory(n);
    night_plan_clear(&plan);
    free(files);
    free(clips);
    free(gains);
    free(most);
    return status;
}

static enum tc_status read_order(struct night *n)
{
    struct night_ground ground = { .seed = n->settings->seed, .day_s = NIGHT_NO_DAY };
    enum tc_status status = read_order_of(n, &n->list, &n->out->plan, &ground);
    n->out->order_day_s = ground.day_s;
    n->out->clocks_off = ground.clocks_off;
    if (!n->own_seed) n->settings->seed = ground.seed;
    if (n->out->day_s == NIGHT_NO_DAY) n->out->day_s = ground.day_s;
    return status;
}

static enum tc_status plan(struct night *n)
{
    enum tc_status status = list_recordings(n);
    if (status == TC_OK) status = n->job->order ? read_order(n) : make_plan(n);
    for (size_t i = 0; i < n->list.count; i++)
        if (isfinite(n->out->recordings[i].lufs)) /* silence has no loudness to be set */
            n->out->quieter += n->gains[i] < (double)n->job->lufs - n->out->recordings[i].lufs - 0.06;
    return status;
}

/* ---- Sound, light, and all files ---- */

static enum tc_status open_and_write_sound(struct night *n)
{
    enum tc_status status = outfile_open(&n->more[0], n->out->sound_path, n->job->over != OVER_NOTHING, n->why);
    return status == TC_OK ? night_sound_write(n->job, n->settings->seed, n->out, outfile_stream(n->more[0]), n->why)
        : status;
}

static enum tc_status write_order(struct night *n)
{
    if (!n->out->order_path) return TC_OK;
    enum tc_status status = outfile_open(&n->more[1], n->out->order_path, n->job->over != OVER_NOTHING, n->why);
    if (status != TC_OK) return status;
    const struct night_ground ground = { .seed = n->settings->seed, .day_s = n->out->day_s };
    night_order_write(&n->out->plan, &n->list, ground, stream_sink(outfile_stream(n->more[1])));
    return TC_OK; /* what can't be written is told where the outputs are sealed */
}

static enum tc_status cue_and_write(struct night *n)
{
    struct night_outcome *o = n->out;
    struct night_page page;
    night_page_of(&page, n->job, o);
    page.extra.report = night_report_json;
    struct run r = { .job = &o->job, .rig = n->rig, .settings = n->settings, .out = &o->light, .why = n->why,
                     .extra = &page.extra };
    memcpy(r.more, n->more, sizeof r.more);
    memset(n->more, 0, sizeof n->more);
    enum tc_status status = night_join(o, n->settings, o->rate, &r.heard);
    if (status != TC_OK) status = no_memory(n);
    if (status == TC_OK) status = run_cue(&r);
    if (status == TC_OK) status = run_write_files(&r);
    memcpy(n->more, r.more, sizeof r.more);
    run_end(&r);
    return status;
}

static void release(struct night *n)
{
    for (int i = 0; i < RUN_MORE; i++) outfile_abandon(n->more[i]);
    free(n->files);
    free(n->clips);
    free(n->gains);
    free(n->gains_most);
}

static void clear_recording(struct night_recording *r)
{
    free(r->file);
    free(r->path);
    tc_analysis_clear(&r->heard);
}

void night_clear(struct night_outcome *o)
{
    for (size_t i = 0; i < o->recording_count; i++) clear_recording(&o->recordings[i]);
    free(o->recordings);
    clear_recording(&o->under);
    night_plan_clear(&o->plan);
    outcome_clear(&o->light);
    free(o->folder);
    free(o->stem);
    free(o->sound_path);
    free(o->order_path);
    *o = (struct night_outcome){ 0 };
}
