#include "pipeline.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>

#include "columns.h"
#include "encode.h"
#include "flash.h"
#include "labels.h"
#include "limit.h"
#include "load.h"
#include "outfile.h"
#include "player.h"
#include "progress.h"
#include "report.h"
#include "settings.h"
#include "source.h"
#include "status.h"
#include "text.h"
#include "units.h"
#include "write_csv.h"
#include "write_plot.h"
#include "write_preview.h"

/* Everything that one run holds, released in one place. */
struct run {
    const struct job *job;
    const struct tc_rig *rig;
    const struct tc_settings *settings;
    struct outcome *out;
    struct tc_problem *why;
    struct tc_analysis heard;
    struct tc_timeline timeline;
};

/* ---- Names of the outputs ---- */

static const char *const endings[OUTPUT_COUNT] = {
    [OUTPUT_EVENTS] = ".events.csv",
    [OUTPUT_RAMPS] = ".ramps.csv",
    [OUTPUT_FRAMES] = ".frames.csv",
    [OUTPUT_PREVIEW] = ".preview.html",
};

/* "storm/clap.wav" -> "clap"; an edited "clap.events.csv" -> "clap". */
static void find_stem(const struct job *job, char *stem, size_t size)
{
    const char *from = job->recording ? job->recording : job->events;
    if (job->stem) from = job->stem;
    const char *slash = strrchr(from, '/');
    snprintf(stem, size, "%s", slash ? slash + 1 : from);
    if (job->stem) return;
    if (!strcmp(stem, "-")) snprintf(stem, size, "input");
    char *dot = strrchr(stem, '.');
    if (dot && dot != stem) *dot = 0;
    char *events = strstr(stem, ".events");
    if (!job->recording && events && events != stem && !events[7]) *events = 0;
}

static bool same_file(const char *a, const char *b)
{
    struct stat x, y;
    return a && b && !stat(a, &x) && !stat(b, &y) && x.st_dev == y.st_dev && x.st_ino == y.st_ino;
}

/* Refuses, before any work, what would be refused after it. */
static enum tc_status check_output(struct run *r, const char *path)
{
    struct stat st;
    char plain[512];
    text_plain(plain, sizeof plain, path);
    if (same_file(path, r->job->recording) || same_file(path, r->job->events)
        || same_file(path, r->job->rig_path))
        return problem_set(r->why, TC_ERR_WRITE, "%s: is an input of this run; choose another --out", plain);
    if (!r->job->force && !stat(path, &st) && S_ISREG(st.st_mode))
        return problem_set(r->why, TC_ERR_EXISTS, "%s: exists already; use --force to overwrite it", plain);
    return TC_OK;
}

static enum tc_status make_folder(struct run *r, const char *path)
{
    char *part = strdup(path), plain[512];
    if (!part) return problem_set(r->why, TC_ERR_MEMORY, "out of memory");
    int failed = 0;
    for (char *at = part + 1; !failed; at++) {
        if (*at && *at != '/') continue;
        char was = *at;
        *at = 0;
        if (mkdir(part, 0777) && errno != EEXIST) failed = errno;
        *at = was;
        if (!was) break;
    }
    free(part);
    struct stat st;
    if (!failed && (stat(path, &st) || !S_ISDIR(st.st_mode))) failed = ENOTDIR;
    if (!failed) return TC_OK;
    return problem_set(r->why, TC_ERR_WRITE, "%s: the output folder can't be made: %s",
                       text_plain(plain, sizeof plain, path), strerror(failed));
}

static enum tc_status name_outputs(struct run *r)
{
    const char *folder = r->job->out_dir ? r->job->out_dir : ".";
    find_stem(r->job, r->out->stem, sizeof r->out->stem);
    if (*folder) {
        enum tc_status status = make_folder(r, folder);
        if (status != TC_OK) return status;
    }
    for (int i = 0; i < OUTPUT_COUNT; i++) {
        if (i == OUTPUT_PREVIEW && !r->job->preview) continue;
        size_t room = strlen(folder) + strlen(r->out->stem) + strlen(endings[i]) + 2;
        char *path = calloc(1, room);
        if (!path) return problem_set(r->why, TC_ERR_MEMORY, "out of memory");
        bool here = !*folder || !strcmp(folder, ".");
        snprintf(path, room, "%s%s%s%s", here ? "" : folder, here ? "" : "/", r->out->stem, endings[i]);
        r->out->paths[i] = path;
        if (i == OUTPUT_EVENTS && same_file(path, r->job->events)) {
            free(path); /* cueing from it again: it stays as its editor left it */
            r->out->paths[i] = NULL;
            continue;
        }
        enum tc_status status = check_output(r, path);
        if (status != TC_OK) return status;
    }
    const char *more[] = { r->job->json, r->job->plot };
    for (size_t i = 0; i < sizeof more / sizeof *more; i++) {
        enum tc_status status = more[i] ? check_output(r, more[i]) : TC_OK;
        if (status != TC_OK) return status;
    }
    return TC_OK;
}

/* ---- Listen ---- */

enum { TAIL_MS = 2000 }; /* after the last event, where no recording says how long */

/* Without a recording the rumbles' envelope is drawn as a hill around each
 * rumble's peak, at the level the events file gives. */
static enum tc_status imagine_envelope(struct run *r)
{
    struct tc_analysis *a = &r->heard;
    int64_t rate = r->settings->frame_rate;
    for (size_t i = 0; i < a->event_count; i++)
        if (a->events[i].end_ms + TAIL_MS > a->length_ms) a->length_ms = a->events[i].end_ms + TAIL_MS;
    a->envelope_count = (size_t)(a->length_ms * rate / 1000 + 1);
    if (!(a->envelope = calloc(a->envelope_count, 1)))
        return problem_set(r->why, TC_ERR_MEMORY, "out of memory");
    for (size_t i = 0; i < a->event_count; i++) {
        const struct tc_event *e = &a->events[i];
        if (e->kind != TC_RUMBLE) continue;
        double start = (double)e->start_ms, end = (double)e->end_ms, peak = (double)e->peak_ms;
        for (int64_t f = frame_at(e->start_ms, rate); f < frame_at(e->end_ms, rate); f++) {
            double t = (double)frame_ms(f, rate);
            double share = t < peak ? (t - start) / (peak - start + 1) : (end - t) / (end - peak + 1);
            double db = (double)e->level_dbfs - 20 * (1 - (share < 0 ? 0 : share));
            int byte = (int)(2 * (db + 127.5) + 0.5);
            if (byte > a->envelope[f]) a->envelope[f] = (uint8_t)(byte > 255 ? 255 : byte);
        }
    }
    return TC_OK;
}

static enum tc_status take_events(struct run *r)
{
    struct label *labels;
    size_t count;
    enum tc_status status = labels_read(r->job->events, &labels, &count, r->why);
    if (status != TC_OK) return status;
    struct tc_event *events = calloc(count + 1, sizeof *events);
    if (!events) {
        free(labels);
        return problem_set(r->why, TC_ERR_MEMORY, "out of memory");
    }
    for (size_t i = 0; i < count; i++) events[i] = labels[i].event;
    free(labels);
    free(r->heard.events);
    r->heard.events = events;
    r->heard.event_count = count;
    return TC_OK;
}

static enum tc_status listen(struct run *r)
{
    const struct job *job = r->job;
    enum tc_status status = TC_OK;
    if (job->recording)
        status = tc_listen_file(job->recording, r->settings, &r->heard, &r->out->remark, r->why);
    if (status == TC_OK && job->events) status = take_events(r);
    if (status == TC_OK && !job->recording) status = imagine_envelope(r);
    return status;
}

/* ---- Cue ---- */

static enum tc_status cue(struct run *r)
{
    enum tc_status status = tc_cue(&r->heard, r->rig, r->settings, &r->timeline);
    if (status == TC_OK) status = limit_thin(&r->timeline, r->settings);
    if (status != TC_OK) return problem_set(r->why, status, "%s", tc_status_text(status));
    return TC_OK;
}

/* ---- Write ---- */

/* The open outputs, and the stages that look at every light frame. */
struct writing {
    struct outfile *files[OUTPUT_COUNT];
    struct tc_player *player;
    struct ramper *ramper;
    struct flash_counter *flash;
    struct load_meter *load;
    struct columns columns;
    struct preview *preview;     /* NULL without a page */
    uint16_t *levels;
    bool *lit;
    char *row;
};

static void writing_release(struct writing *w)
{
    for (int i = 0; i < OUTPUT_COUNT; i++) outfile_abandon(w->files[i]);
    tc_player_destroy(w->player);
    ramper_destroy(w->ramper);
    flash_counter_destroy(w->flash);
    load_meter_destroy(w->load);
    columns_clear(&w->columns);
    preview_destroy(w->preview);
    free(w->levels);
    free(w->lit);
    free(w->row);
}

static enum tc_status writing_open(struct run *r, struct writing *w)
{
    size_t channels = r->rig->channel_count;
    uint16_t full = r->settings->levels == TC_LEVELS_PERCENT ? 1000 : 255;
    w->levels = calloc(channels + 1, sizeof *w->levels);
    w->lit = calloc(channels + 1, sizeof *w->lit);
    w->row = calloc(1, FRAMES_ROW_ROOM);
    enum tc_status status = w->levels && w->lit && w->row ? TC_OK : TC_ERR_MEMORY;
    if (status == TC_OK) status = tc_player_create(&w->player, &r->timeline, r->rig, r->settings);
    if (status == TC_OK) status = ramper_create(&w->ramper, channels, full);
    if (status == TC_OK) status = flash_counter_create(&w->flash, r->rig, full, r->settings->flash_limit);
    if (status == TC_OK) status = load_meter_create(&w->load, r->rig, full);
    if (status == TC_OK) status = columns_create(&w->columns, channels, r->timeline.frames);
    if (status == TC_OK && r->job->preview) status = preview_create(&w->preview, channels);
    if (status != TC_OK) return problem_set(r->why, status, "%s", tc_status_text(status));
    for (int i = 0; i < OUTPUT_COUNT && status == TC_OK; i++)
        if (r->out->paths[i])
            status = outfile_open(&w->files[i], r->out->paths[i], r->job->force, r->why);
    return status;
}

static enum tc_status write_ready_ramps(struct run *r, struct writing *w)
{
    struct ramp ramp;
    enum tc_status status = TC_OK;
    while (status == TC_OK && ramper_next(w->ramper, &ramp)) {
        ramps_write_row(outfile_stream(w->files[OUTPUT_RAMPS]), &ramp, r->rig, r->settings);
        if (w->preview) status = preview_ramp(w->preview, &ramp);
    }
    return status;
}

static void note_light(struct run *r, struct writing *w, int64_t at_ms)
{
    double light = player_light(w->player, w->levels);
    if (light > r->out->brightest) {
        r->out->brightest = light;
        r->out->brightest_at_ms = at_ms;
    }
    for (size_t c = 0; c < r->rig->channel_count; c++)
        if (w->levels[c]) w->lit[c] = true;
}

/* Every light frame goes past all that write, count and measure. */
static enum tc_status write_frames(struct run *r, struct writing *w)
{
    const struct tc_settings *s = r->settings;
    int64_t shift_ms = (int64_t)(s->shift_s * 1000 + 0.5);
    FILE *frames = outfile_stream(w->files[OUTPUT_FRAMES]);
    frames_write_head(frames, r->rig);
    ramps_write_head(outfile_stream(w->files[OUTPUT_RAMPS]));

    for (int64_t f = 0; tc_player_step(w->player, w->levels); f++) {
        int64_t at_ms = shift_ms + frame_ms(f, s->frame_rate);
        frames_write_row(frames, w->row, at_ms, w->levels, r->rig->channel_count, (enum tc_levels)s->levels);
        enum tc_status status = ramper_step(w->ramper, w->levels);
        if (status == TC_OK) status = write_ready_ramps(r, w);
        if (status != TC_OK) return problem_set(r->why, status, "%s", tc_status_text(status));
        flash_counter_step(w->flash, w->levels, f * 1000000 / s->frame_rate);
        load_meter_step(w->load, w->levels, at_ms);
        columns_step(&w->columns, w->levels, flash_counter_recent(w->flash));
        note_light(r, w, at_ms);
        if (f % 4096 == 0 && stop_asked()) return problem_set(r->why, TC_ERR_STOPPED, "stopped");
    }
    enum tc_status status = ramper_flush(w->ramper);
    if (status == TC_OK) status = write_ready_ramps(r, w);
    if (status != TC_OK) return problem_set(r->why, status, "%s", tc_status_text(status));
    return TC_OK;
}

/* A timeline that repeats goes on with its own beginning: counted for more
 * than a second behind the end, with a player of its own. */
static enum tc_status count_seam(struct run *r, struct writing *w)
{
    int64_t rate = r->settings->frame_rate, frame = r->timeline.frames, until = frame + rate + 1;
    while (frame < until) {
        struct tc_player *again;
        enum tc_status status = tc_player_create(&again, &r->timeline, r->rig, r->settings);
        if (status != TC_OK) return problem_set(r->why, status, "%s", tc_status_text(status));
        for (; frame < until && tc_player_step(again, w->levels); frame++)
            flash_counter_step(w->flash, w->levels, frame * 1000000 / rate);
        tc_player_destroy(again);
    }
    return TC_OK;
}

/* Seals all, so that a full disk leaves none of them, and then names them. */
static enum tc_status commit_all(struct run *r, struct writing *w)
{
    for (int i = 0; i < OUTPUT_COUNT; i++) {
        enum tc_status status = w->files[i] ? outfile_seal(w->files[i], r->why) : TC_OK;
        if (status != TC_OK) return status;
    }
    for (int i = 0; i < OUTPUT_COUNT; i++) {
        if (!w->files[i]) continue;
        struct outfile *file = w->files[i];
        w->files[i] = NULL;
        enum tc_status status = outfile_commit(file, r->why);
        if (status != TC_OK) return status;
    }
    return TC_OK;
}

/* "3-5 9": channels that follow each other in the rig are drawn together. */
static void list_never_lit(const struct tc_rig *rig, const bool *lit, struct outcome *o)
{
    static const char more[] = " ...";
    size_t used = 0, size = sizeof o->never_lit_list;
    for (size_t c = 0, last; c < rig->channel_count; c = last + 1) {
        last = c;
        if (lit[c]) continue;
        while (last + 1 < rig->channel_count && !lit[last + 1]) last++;
        o->never_lit += last - c + 1;
        if (used + 16 > size) continue; /* full: only counted */
        used += (size_t)snprintf(o->never_lit_list + used, size - used, last > c ? "%s%d-%d" : "%s%d",
                                 used ? " " : "", rig->channels[c].number, rig->channels[last].number);
        if (used + 16 > size) memcpy(o->never_lit_list + used, more, sizeof more);
    }
}

static void sum_up(struct run *r, struct writing *w)
{
    struct outcome *o = r->out;
    o->length_ms = r->heard.length_ms;
    o->sample_rate = r->heard.sample_rate;
    o->channels = r->heard.channels;
    o->frames = r->timeline.frames;
    for (size_t i = 0; i < r->heard.event_count; i++)
        r->heard.events[i].kind == TC_CRACK ? o->cracks++ : o->rumbles++;
    o->strokes = r->timeline.stroke_count;
    o->dropped = r->timeline.dropped;
    for (size_t i = 0; i < r->timeline.stroke_count; i++) {
        const struct tc_stroke *stroke = &r->timeline.strokes[i];
        o->glimmers += r->heard.events[stroke->event].kind == TC_RUMBLE;
        if (!stroke->order) continue;
        stroke->heard ? o->restrikes_heard++ : o->restrikes_drawn++;
    }
    list_never_lit(r->rig, w->lit, o);
    flash_counter_report(w->flash, &o->flash);
    o->flash.softened = player_softened(w->player);
    load_meter_report(w->load, &o->load);
}

static enum tc_status write_json(struct run *r)
{
    struct outfile *file;
    enum tc_status status = outfile_open(&file, r->job->json, r->job->force, r->why);
    if (status != TC_OK) return status;
    status = report_json(outfile_stream(file), r->job, r->rig, r->settings, r->out, r->why);
    if (status != TC_OK) {
        outfile_abandon(file);
        return status;
    }
    return outfile_commit(file, r->why);
}

/* ---- The preview ---- */

enum { SOUND_IN_PAGE_MS = 10 * 60 * 1000 }; /* longer recordings are referred to */

/* Encodes the recording once more from its start. A recording that can't be
 * read twice leaves *out NULL: the page then plays without sound. */
static enum tc_status encode_sound(struct run *r, struct encoder **out)
{
    struct source *source;
    struct encoder *made = NULL;
    enum tc_status status = source_open(&source, r->job->recording, NULL);
    if (status != TC_OK) return status == TC_ERR_MEMORY ? status : TC_OK;
    size_t channels = (size_t)source_channels(source), got;
    float *block = calloc(SOURCE_BLOCK * channels, sizeof *block);
    if (!block) status = TC_ERR_MEMORY;
    if (status == TC_OK) status = encoder_create(&made, source_rate(source), (int)channels);
    while (status == TC_OK && (got = source_read(source, block, SOURCE_BLOCK)) > 0)
        status = stop_asked() ? TC_ERR_STOPPED : encoder_push(made, block, got);
    if (status == TC_OK) status = encoder_finish(made);
    free(block);
    source_close(source);
    if (status == TC_OK) *out = made;
    else encoder_destroy(made);
    return status;
}

static void quote_word(FILE *out, const char *word)
{
    bool plain = *word != 0;
    for (const char *c = word; *c && plain; c++)
        plain = (*c >= 'a' && *c <= 'z') || (*c >= 'A' && *c <= 'Z') || (*c >= '0' && *c <= '9')
                || strchr("-_./+,:@", *c);
    if (plain) {
        fputs(word, out);
        return;
    }
    putc('\'', out);
    for (; *word; word++)
        if (*word == '\'') fputs("'\\''", out);
        else putc(*word, out);
    putc('\'', out);
}

/* The command line that makes the same timeline again: for a shell, with the
 * settings that differ from their presets. The caller frees it. */
static char *command_again(const struct run *r)
{
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    if (!out) return NULL;
    fputs("thundercue cue", out);
    const char *const files[][2] = { { " ", r->job->recording }, { " --events ", r->job->events },
                                     { " --rig ", r->job->rig_path } };
    for (size_t i = 0; i < sizeof files / sizeof *files; i++) {
        if (!files[i][1]) continue;
        fputs(files[i][0], out);
        quote_word(out, files[i][1]);
    }
    struct tc_settings presets = tc_settings_default();
    for (size_t i = 0; i < setting_count(); i++) {
        char value[32], preset[32];
        const struct setting *row = setting_at(i);
        setting_value(row, r->settings, value, sizeof value);
        if (!strcmp(value, setting_value(row, &presets, preset, sizeof preset))) continue;
        if (row->type == SETTING_SWITCH) fprintf(out, " --%s", row->name);
        else fprintf(out, " --%s %s", row->name, value);
    }
    if (!fclose(out)) return text;
    free(text);
    return NULL;
}

static enum tc_status write_preview(struct run *r, struct writing *w)
{
    const struct job *job = r->job;
    const char *shown = job->recording ? strrchr(job->recording, '/') : NULL;
    struct preview_facts facts = {
        .title = r->out->stem, .rig = r->rig, .settings = r->settings, .heard = &r->heard,
        .recording = shown ? shown + 1 : job->recording,
        .timeline = &r->timeline, .columns = &w->columns, .flash = &r->out->flash, .load = &r->out->load,
        .sound_late_s = flash_to_bang_s(r->settings->distance_m, r->settings->temperature_c),
    };
    const char *notes[4] = { NULL };
    size_t count = 0;
    if (*r->out->remark.text) notes[count++] = r->out->remark.text;
    if (r->out->never_lit) notes[count++] = "Some channels of the rig never light in this timeline.";
    bool again = job->recording && strcmp(job->recording, "-");
    if (job->recording && !again) facts.recording = "from standard input";
    if (job->recording && !again) notes[count++] = "The recording came through standard input, so this page has no sound.";
    facts.notes = notes;

    struct encoder *encoder = NULL;
    char *link = NULL, *command = command_again(r);
    double *advice = calloc(r->rig->circuit_count + 1, sizeof *advice);
    enum tc_status status = command && advice ? TC_OK : TC_ERR_MEMORY;
    for (size_t i = 0; i < r->rig->circuit_count && advice; i++)
        advice[i] = circuit_advice_w(&r->rig->circuits[i]);
    if (status == TC_OK && again && r->heard.length_ms <= SOUND_IN_PAGE_MS) status = encode_sound(r, &encoder);
    else if (again) link = preview_link(job->out_dir ? job->out_dir : ".", job->recording);
    facts.command = command;
    facts.advice_w = advice;
    facts.sound = encoder ? encoder_bytes(encoder) : NULL;
    facts.sound_type = encoder ? encoder_type(encoder) : NULL;
    facts.sound_link = link;
    if (status == TC_OK) status = preview_write(w->preview, outfile_stream(w->files[OUTPUT_PREVIEW]), &facts);
    encoder_destroy(encoder);
    free(link);
    free(command);
    free(advice);
    if (status != TC_OK) return problem_set(r->why, status, "the preview can't be made: %s", tc_status_text(status));
    return TC_OK;
}

/* ---- The plot ---- */

static enum tc_status write_plot(struct run *r, struct writing *w)
{
    struct outfile *file;
    enum tc_status status = outfile_open(&file, r->job->plot, r->job->force, r->why);
    if (status != TC_OK) return status;
    struct plot_facts facts = {
        .title = r->out->stem, .rig = r->rig, .settings = r->settings, .heard = &r->heard,
        .timeline = &r->timeline, .columns = &w->columns, .flash = &r->out->flash, .load = &r->out->load,
        .sound_late_s = flash_to_bang_s(r->settings->distance_m, r->settings->temperature_c),
    };
    plot_write(outfile_stream(file), &facts);
    return outfile_commit(file, r->why);
}

static enum tc_status write_all(struct run *r)
{
    struct writing w = { 0 };
    enum tc_status status = writing_open(r, &w);
    if (status == TC_OK) {
        if (w.files[OUTPUT_EVENTS]) events_write(outfile_stream(w.files[OUTPUT_EVENTS]), &r->heard);
        status = write_frames(r, &w);
    }
    if (status == TC_OK && r->settings->loop) status = count_seam(r, &w);
    if (status == TC_OK) {
        sum_up(r, &w);
        if (w.preview) status = write_preview(r, &w);
        if (status == TC_OK) status = commit_all(r, &w);
    }
    if (status == TC_OK && r->job->plot) status = write_plot(r, &w);
    writing_release(&w);
    if (status == TC_OK && r->job->json) status = write_json(r);
    return status;
}

/* ---- The story ---- */

static double now_s(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

enum tc_status pipeline_run(const struct job *job, const struct tc_rig *rig,
                            const struct tc_settings *s, struct outcome *out,
                            struct tc_problem *why)
{
    memset(out, 0, sizeof *out);
    struct run r = { .job = job, .rig = rig, .settings = s, .out = out, .why = why };
    double start = now_s();
    enum tc_status status = tc_settings_check(s, why);
    if (status == TC_OK) status = name_outputs(&r);
    if (status == TC_OK) status = listen(&r);
    double heard = now_s();
    if (status == TC_OK) status = cue(&r);
    double cued = now_s();
    if (status == TC_OK) status = write_all(&r);
    out->listen_seconds = heard - start;
    out->cue_seconds = cued - heard;
    out->write_seconds = now_s() - cued;
    tc_timeline_clear(&r.timeline);
    tc_analysis_clear(&r.heard);
    return status;
}

void outcome_clear(struct outcome *o)
{
    for (int i = 0; i < OUTPUT_COUNT; i++) free(o->paths[i]);
    load_report_clear(&o->load);
    memset(o, 0, sizeof *o);
}
