/* Which clips of a batch are done, which are to do, and which are refused. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "app/batch/batch.h"
#include "app/batch/batch_round.h"
#include "app/clip/run_names.h"
#include "io/files/digest.h"
#include "io/files/ledger.h"
#include "io/files/stream.h"
#include "io/process/progress.h"
#include "io/process/stop.h"
#include "io/sound/sound_kind.h"
#include "io/sound/source.h"
#include "words/settings.h"
#include "words/status.h"
#include "words/text.h"

static const char *const part_names[PARTS] = { "sound", "events", "settings", "rig", "program's version" };

/* ---- First round: which files are recordings, and which are done already ---- */

static uint32_t short_of(uint64_t digest)
{
    return (uint32_t)(digest ^ digest >> 32);
}

/* Settings, rig and version shape all outputs alike. */
enum tc_status round_digest_ground(struct round *r)
{
    char *text = NULL;
    size_t size = 0;
    uint64_t rig = 0;
    FILE *out = open_memstream(&text, &size);
    if (!out) return round_no_memory(r);
    tc_settings_write(r->settings, true, stream_sink(out), NULL);
    bool written = !fclose(out);
    if (written) r->ground[PART_SETTINGS] = short_of(digest_bytes(0, text, size));
    free(text);
    if (!written) return round_no_memory(r);
    r->ground[PART_VERSION] = short_of(digest_text(0, TC_VERSION));
    bool known = !r->batch->rig_path || digest_file(&rig, r->batch->rig_path, NULL);
    r->ground[PART_RIG] = known ? short_of(rig) : 1;
    return TC_OK;
}

static void look_here(struct round *r, struct clip *c)
{
    (void)r;
    struct tc_problem why = { "" };
    struct source *source = NULL;
    c->result = (struct result){ .status = source_open(&source, c->path, &why) };
    source_close(source);
    if (c->result.status == TC_OK) {
        uint64_t sound = 0;
        c->sound_known = digest_file(&sound, c->path, stop_asked);
        c->parts[PART_SOUND] = short_of(sound);
    } else {
        c->result.state = CLIP_FAILED;
        c->result.message = strdup(why.text);
    }
}

void round_look(void *user, size_t item)
{
    struct round *r = user;
    struct clip *c = &r->clips[item];
    if (c->state != CLIP_UNFINISHED || stop_asked()) return;
    if (!sound_looks_like(c->path)) {
        c->result = (struct result){ .state = CLIP_PASSED_OVER };
        return;
    }
    memcpy(c->parts, r->ground, sizeof c->parts);
    clip_run_apart(r, c, look_here);
}

void round_looked(void *user, size_t item)
{
    struct round *r = user;
    struct clip *c = &r->clips[item];
    if (c->state == CLIP_UNFINISHED) c->state = c->result.state;
    progress_show("looking at the files");
}

/* "the rig and the settings", each after the article if there is one */
static int list_changes(const struct clip *c, const char *article, char *to, size_t size)
{
    int changed = 0, said = 0;
    size_t used = 0;
    for (int i = 0; i < PARTS; i++) changed += c->parts[i] != c->parts_before[i];
    *to = 0;
    for (int i = 0; i < PARTS; i++) {
        if (c->parts[i] == c->parts_before[i]) continue;
        const char *gap = !said ? "" : said + 1 == changed ? " and " : ", ";
        used += (size_t)snprintf(to + used, size - used, "%s%s%s", gap, article, part_names[i]);
        said++;
    }
    return changed;
}

/* "the rig and the settings have changed since" */
static void say_changes(const struct clip *c, char *to, size_t size)
{
    int changed = list_changes(c, "the ", to, size);
    size_t used = strlen(to);
    snprintf(to + used, size - used, " %s changed since",
             changed == 1 && c->parts[PART_SETTINGS] == c->parts_before[PART_SETTINGS]
             && c->parts[PART_EVENTS] == c->parts_before[PART_EVENTS] ? "has" : "have");
}

void round_say_refused(const struct round *r, char *to, size_t size)
{
    char first[120] = "", one[120];
    bool any = false, alike = true, force_does = true;
    for (size_t i = 0; i < r->count; i++) {
        const struct clip *c = &r->clips[i];
        if (c->state != CLIP_REFUSED) continue;
        *one = 0;
        if (c->force_does && c->remembered) list_changes(c, "", one, sizeof one);
        if (!any) snprintf(first, sizeof first, "%s", one);
        alike = alike && *one && !strcmp(one, first);
        force_does = force_does && c->force_does;
        any = true;
    }
    *to = 0;
    if (any && force_does)
        snprintf(to, size, "%s%s--force does them again", alike ? first : "", alike ? " changed; " : "");
}

static enum tc_status refuse(struct round *r, struct clip *c, const char *folder)
{
    char changes[160] = "it was not written by a batch of this folder", plain[512];
    struct tc_problem why;
    char *path = run_file_path(folder, c->name, RUN_FRAMES);
    if (!path) return round_no_memory(r);
    if (c->remembered) say_changes(c, changes, sizeof changes);
    problem_set(&why, TC_OK, "%s: exists already, and %s; use --force to do this clip again",
                text_plain(plain, sizeof plain, path), changes);
    free(path);
    c->state = CLIP_REFUSED;
    c->force_does = true;
    c->result = (struct result){ .state = CLIP_REFUSED, .status = TC_ERR_EXISTS, .message = strdup(why.text) };
    return c->result.message ? TC_OK : round_no_memory(r);
}

/* An events file that is not as thundercue wrote it is the user's: the clip is
 * cued from it, and it stays. */
static enum tc_status find_edits(struct round *r, struct clip *c, const char *folder, const struct ledger *ledger)
{
    char *path = run_file_path(folder, c->name, RUN_EVENTS);
    uint64_t digest = 0;
    if (!path) return round_no_memory(r);
    enum ledger_word word = ledger_look(ledger, path);
    bool edited = !r->batch->discard_edits && (word == LEDGER_EDITED || word == LEDGER_UNKNOWN);
    if (edited && digest_file(&digest, path, NULL)) c->parts[PART_EVENTS] = short_of(digest);
    if (edited) c->events = path;
    else free(path);
    return TC_OK;
}

static void keep(struct clip *c)
{
    c->kept = true;
    c->state = c->state_before;
    memcpy(c->result.figures, c->figures_before, sizeof c->result.figures);
    c->result.message = c->message_before;
    c->message_before = NULL;
}

/* A timeline that was edited, cut or emptied is the user's: it stays, and the user is told. */
static enum tc_status find_edited_timeline(struct round *r, struct clip *c, const char *folder,
                                           const struct ledger *ledger)
{
    for (int i = RUN_RAMPS; i <= RUN_FRAMES && !c->edited; i++) {
        char *path = run_file_path(folder, c->name, i);
        if (!path) return round_no_memory(r);
        if (ledger_look(ledger, path) == LEDGER_EDITED) c->edited = path;
        else free(path);
    }
    return TC_OK;
}

/* What is to be done with a clip: nothing, if its row has the same parts and
 * its files are there; it is refused where files are there that were made of
 * something else, unless only their events were edited. */
static enum tc_status decide(struct round *r, struct clip *c, const char *folder, const struct ledger *ledger)
{
    enum tc_status status = find_edits(r, c, folder, ledger);
    if (status != TC_OK || r->batch->force || r->batch->discard_edits) return status;
    bool all, same = c->remembered && c->sound_known, same_but_events = same;
    size_t there = clip_files_there(r, c, folder, &all);
    if (c->events && !c->remembered) return TC_OK; /* the rest is replaced where it is as it was written */
    for (int i = 0; i < PARTS && c->remembered; i++) {
        bool alike = c->parts[i] == c->parts_before[i];
        same = same && alike;
        same_but_events = same_but_events && (alike || i == PART_EVENTS);
    }
    c->own_only = same_but_events || c->begun_before;
    if (same && all) {
        keep(c);
        status = find_edited_timeline(r, c, folder, ledger);
    } else if (there && !c->own_only) status = refuse(r, c, folder);
    return status;
}

enum tc_status round_decide(struct round *r)
{
    char *last = NULL;
    struct ledger *ledger = NULL;
    enum tc_status status = TC_OK;
    for (size_t i = 0; i < r->count && status == TC_OK; i++) {
        struct clip *c = &r->clips[i];
        if (c->state != CLIP_UNFINISHED) continue;
        char *folder = clip_out_folder(r, c);
        if (!folder) status = round_no_memory(r);
        else if (!last || strcmp(folder, last)) { /* clips of one folder lie together */
            ledger_close(ledger);
            status = ledger_open(&ledger, folder, r->why);
        }
        if (status == TC_OK) status = decide(r, c, folder, ledger);
        free(last);
        last = folder;
    }
    free(last);
    ledger_close(ledger);
    return status;
}
