#include "app/run_page.h"

#include <stdlib.h>
#include <string.h>

#include "io/outfile.h"
#include "io/read_file.h"
#include "rig/load.h"
#include "words/settings.h"
#include "words/status.h"
#include "words/text.h"
#include "words/units.h"

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

static void put_words(FILE *out, const char *const *words)
{
    for (; *words; words++) {
        putc(' ', out);
        quote_word(out, *words);
    }
}

/* The command line that makes the same timeline again: for a shell, with the
 * settings that differ from their presets. The caller frees it. */
static char *command_again(const struct run *r)
{
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    if (!out) return NULL;
    const char *cue[5] = { "cue" };
    size_t count = 1;
    if (r->job->recording) cue[count++] = r->job->recording;
    if (r->job->events) cue[count++] = "--events";
    if (r->job->events) cue[count++] = r->job->events;
    fputs("thundercue", out);
    put_words(out, r->page ? r->page->command : cue);
    put_words(out, (const char *const[]){ r->job->rig_path ? "--rig" : NULL, r->job->rig_path, NULL });
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

/* The text of a file, for the caller to free; NULL where it can't be read (twice) or is no text. */
static char *text_of(const char *path)
{
    struct file_text file = { 0 };
    if (!strcmp(path, "-") || file_read(path, TC_ERR_RIG, &file, NULL) != TC_OK) return NULL;
    char *text = file.size && !memchr(file.bytes, 0, file.size) ? strndup(file.bytes, file.size) : NULL;
    file_text_free(&file);
    if (text && !text_utf8(text)) {
        free(text);
        text = NULL;
    }
    return text;
}

enum tc_status run_page_write(struct run *r, struct preview *preview, const struct columns *columns, FILE *out)
{
    const struct job *job = r->job;
    const char *shown = job->recording ? strrchr(job->recording, '/') : NULL;
    struct preview_facts facts = {
        .title = r->out->stem, .rig = r->rig, .settings = r->settings, .heard = &r->heard,
        .recording = shown ? shown + 1 : job->recording,
        .timeline = &r->timeline, .columns = columns, .flash = &r->out->flash, .load = &r->out->load,
        .sound_late_s = flash_to_bang_s(r->settings->distance_m, r->settings->temperature_c),
    };
    const char *notes[4] = { NULL };
    size_t count = 0;
    if (*r->out->remark.text) notes[count++] = r->out->remark.text;
    if (r->out->never_lit) notes[count++] = "Some channels of the rig never light in this timeline.";
    bool piped = job->recording && !strcmp(job->recording, "-");
    facts.sound = r->sound ? page_sound_bytes(r->sound) : NULL;
    facts.sound_type = facts.sound ? page_sound_type(r->sound) : NULL;
    if (piped) facts.recording = "from standard input";
    if (piped && !facts.sound)
        notes[count++] = "The recording came through standard input and is too long for a page, so this page has no sound.";
    facts.notes = notes;

    /* A rig file that can't be read twice, as one from a pipe, leaves the page for looking only. */
    char *rig_text = job->rig_path ? text_of(job->rig_path) : NULL;
    facts.mendable = !r->page && (!job->rig_path || rig_text);
    facts.rig_text = rig_text;
    if (r->page) facts.part = r->page->part;

    char *link = NULL, *command = command_again(r);
    double *advice = calloc(r->rig->circuit_count + 1, sizeof *advice);
    enum tc_status status = command && advice ? TC_OK : TC_ERR_MEMORY;
    for (size_t i = 0; i < r->rig->circuit_count && advice; i++)
        advice[i] = circuit_advice_w(&r->rig->circuits[i]);
    if (r->page) link = preview_link_beside(facts.recording); /* it gets its name together with the page */
    else if (job->recording && !piped && !facts.sound) link = preview_link(job->out_dir ? job->out_dir : ".", job->recording);
    facts.command = command;
    facts.advice_w = advice;
    facts.sound_link = link;
    if (status == TC_OK) status = preview_write(preview, out, &facts);
    free(rig_text);
    free(link);
    free(command);
    free(advice);
    if (status != TC_OK) return problem_set(r->why, status, "the preview can't be made: %s", tc_status_text(status));
    return TC_OK;
}
