#include "app/clip/run_page.h"

#include <stdlib.h>
#include <string.h>

#include "io/files/read_file.h"
#include "io/files/stream.h"
#include "page/command.h"
#include "page/data.h"
#include "words/settings.h"
#include "words/status.h"
#include "words/text.h"
#include "words/units.h"

enum { NOTES_MOST = 3 };

static bool is_piped(const struct run *r)
{
    return r->job->recording && !strcmp(r->job->recording, "-");
}

/* The command line that makes the same timeline again. The caller frees it. */
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
    enum tc_status status = page_command_write(stream_sink(out), r->extra ? r->extra->command : cue, r->job->rig_path,
                                               r->settings);
    if (!fclose(out) && status == TC_OK) return text;
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

/* What the page says in sentences, ended by NULL. */
static void find_notes(const struct run *r, bool sound, const char **notes)
{
    size_t count = 0;
    if (*r->out->remark.text) notes[count++] = r->out->remark.text;
    if (r->out->never_lit) notes[count++] = PAGE_NEVER_LIT;
    if (is_piped(r) && !sound)
        notes[count++] = "The recording came through standard input and is too long for "
                         "a page, so this page has no sound.";
    notes[count] = NULL;
}

/* The sound of an evening gets its name together with the page. */
static char *link_to_sound(const struct run *r)
{
    const char *path = r->job->recording, *slash = path ? strrchr(path, '/') : NULL;
    if (r->extra) return preview_link_beside(slash ? slash + 1 : path);
    return path && !is_piped(r) ? preview_link(r->job->out_dir ? r->job->out_dir : ".", path) : NULL;
}

enum tc_status run_page_write(struct run *r, const struct page_ramps *ramps, const struct columns *columns, FILE *out)
{
    const struct job *job = r->job;
    const char *slash = job->recording ? strrchr(job->recording, '/') : NULL;
    FILE *sound = r->sound ? page_sound_bytes(r->sound) : NULL;
    char *rig_text = job->rig_path ? text_of(job->rig_path) : NULL;
    char *link = sound ? NULL : link_to_sound(r);
    char *command = command_again(r);
    const char *closed = r->extra ? "an evening is changed in its running order (its .night.csv) and built again"
                         : job->rig_path && !rig_text
                         ? "its rig came from where it can't be read again, as from a "
                           "pipe; with a file as --rig it can be changed"
                         : NULL;
    const char *notes[NOTES_MOST + 1];
    find_notes(r, sound, notes);
    const struct page_facts facts = {
        .title = r->out->stem, .recording = is_piped(r) ? "from standard input" : slash ? slash + 1 : job->recording,
        .command = command, .rig = r->rig, .settings = r->settings, .heard = &r->heard, .timeline = &r->timeline,
        .columns = columns, .flash = &r->out->flash, .load = &r->out->load,
        .sound_late_s = flash_to_bang_s(r->settings->distance_m, r->settings->temperature_c),
        .sound_kind = sound ? "embedded" : link ? "file" : "none",
        .sound_type = sound ? page_sound_type(r->sound) : NULL, .sound_own = sound && page_sound_is_own(r->sound),
        .sound_link = link,
        .notes = notes, .rig_text = rig_text, .closed = closed,
        .part = r->extra ? r->extra->page : (struct page_part){ 0 },
    };
    enum tc_status status = command ? preview_write(ramps, out, &facts, sound) : TC_ERR_MEMORY;
    free(rig_text);
    free(link);
    free(command);
    if (status != TC_OK) return problem_set(r->why, status, "the page can't be made: %s", tc_status_text(status));
    return TC_OK;
}
