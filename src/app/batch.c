#include "app/batch.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include "app/recording.h"
#include "app/report.h"
#include "io/clock.h"
#include "io/digest.h"
#include "io/outfile.h"
#include "io/pool.h"
#include "io/read_file.h"
#include "io/progress.h"
#include "io/sound_kind.h"
#include "io/source.h"
#include "io/stop.h"
#include "io/stream.h"
#include "words/csv.h"
#include "words/numbers.h"
#include "words/settings.h"
#include "words/status.h"
#include "words/text.h"

enum { DEPTH_MOST = 64, SUMMARY_EACH_S = 2 };

enum state { UNFINISHED, DONE, FINDINGS, FAILED, SKIPPED, PASSED_OVER, STATES };

static const char *const state_words[STATES] = {
    [UNFINISHED] = "unfinished", [DONE] = "done", [FINDINGS] = "findings",
    [FAILED] = "failed", [SKIPPED] = "skipped", [PASSED_OVER] = "",
};

/* The numbers of a row; each is kept as a whole number of its last decimal. */
enum { LENGTH, CRACKS, RUMBLES, STROKES, PEAK_FLASHES, PEAK_LOAD, FIGURES };

static const struct {
    const char *name;
    int decimals;
} figure_rows[FIGURES] = {
    [LENGTH] = { "seconds", 3 },           [CRACKS] = { "cracks", 0 },
    [RUMBLES] = { "rumbles", 0 },          [STROKES] = { "strokes", 0 },
    [PEAK_FLASHES] = { "peak_flashes", 1 }, [PEAK_LOAD] = { "peak_load_w", 1 },
};

/* What a worker finds out; the caller takes it over when the clip is done. */
struct result {
    enum state state;
    enum tc_status status;
    char *message;
    int64_t figures[FIGURES];
};

struct clip {
    char *file;              /* below the folder: "squall/clap.wav" */
    char *path;              /* folder and file */
    char *name;              /* of the outputs, without their endings; "" if there are none */
    int64_t bytes;
    uint64_t key, print;     /* digests of its name; of all that shapes its outputs */
    struct result result;    /* the worker's, until it is done */

    enum state state;        /* from here on the caller's */
    bool kept, begun_before; /* done before; begun before and not finished */
    bool remembered;         /* print_before and figures_before hold */
    uint64_t print_before;
    int64_t figures_before[FIGURES];
    enum state state_before;
    char *message_before;
};

struct run {
    const struct batch *batch;
    const struct tc_rig *rig;
    const struct tc_settings *settings;
    struct tc_problem *why;
    struct clip *clips;      /* by file */
    size_t count, room;
    size_t *order;           /* the clips to do, largest first */
    size_t order_count;
    uint64_t ground;         /* digest of what shapes all outputs alike */
    char *summary_path;
    int lock;
    /* for the line of progress */
    size_t finished, failed;
    int64_t bytes, bytes_finished, length_finished;
    double begun, summary_at;
};

static enum tc_status no_memory(struct run *r)
{
    return problem_set(r->why, TC_ERR_MEMORY, "out of memory");
}

/* "a" and "b" to "a/b"; "" and "b" to "b". The caller frees it. */
static char *join(const char *folder, const char *name)
{
    size_t n = strlen(folder), room = n + strlen(name) + 2;
    char *path = calloc(1, room);
    bool slash = n && *name && folder[n - 1] != '/';
    if (path) snprintf(path, room, "%s%s%s", folder, slash ? "/" : "", name);
    return path;
}

/* ---- What is in the folder ---- */

/* A row for a file below the folder. `reason`: why it is skipped, or NULL. */
static enum tc_status add_clip(struct run *r, const char *file, int64_t bytes, enum state state,
                               const char *reason)
{
    if (r->count == r->room) {
        size_t room = r->room ? 2 * r->room : 64;
        struct clip *more = realloc(r->clips, room * sizeof *more);
        if (!more) return no_memory(r);
        r->clips = more;
        r->room = room;
    }
    struct clip *c = &r->clips[r->count++];
    *c = (struct clip){ .bytes = bytes, .state = state, .key = digest_text(1, file) };
    c->file = strdup(file);
    c->path = join(r->batch->folder, file);
    if (reason) c->result.message = strdup(reason);
    return c->file && c->path && (!reason || c->result.message) ? TC_OK : no_memory(r);
}

static enum tc_status scan(struct run *r, const char *below, int depth);

static enum tc_status scan_entry(struct run *r, const char *file, int depth)
{
    char *path = join(r->batch->folder, file);
    if (!path) return no_memory(r);
    struct stat st, link;
    bool is_link = !lstat(path, &link) && S_ISLNK(link.st_mode);
    int error = stat(path, &st) ? errno : 0;
    free(path);
    if (error) return add_clip(r, file, 0, SKIPPED, strerror(error));
    if (S_ISREG(st.st_mode)) return add_clip(r, file, st.st_size, UNFINISHED, NULL);
    if (!S_ISDIR(st.st_mode)) return add_clip(r, file, 0, SKIPPED, "is not a file");
    if (!r->batch->recursive) return TC_OK;
    if (is_link) return add_clip(r, file, 0, SKIPPED, "is a link to a folder, and links to folders are not followed");
    if (depth == DEPTH_MOST) return add_clip(r, file, 0, SKIPPED, "lies too deep");
    return scan(r, file, depth + 1);
}

/* Hidden files are nobody's clips. */
static enum tc_status scan(struct run *r, const char *below, int depth)
{
    char *path = join(r->batch->folder, below);
    if (!path) return no_memory(r);
    DIR *dir = opendir(path);
    int error = errno;
    enum tc_status status = TC_OK;
    char plain[512];
    if (!dir && !*below)
        status = problem_set(r->why, TC_ERR_READ, "%s: the folder can't be read: %s",
                             text_plain(plain, sizeof plain, path), strerror(error));
    else if (!dir)
        status = add_clip(r, below, 0, FAILED, strerror(error));
    free(path);
    if (!dir) return status;
    for (struct dirent *entry; status == TC_OK && (entry = readdir(dir));) {
        if (entry->d_name[0] == '.') continue;
        char *file = join(below, entry->d_name);
        status = file ? scan_entry(r, file, depth) : no_memory(r);
        free(file);
    }
    closedir(dir);
    return status;
}

static int by_file(const void *left, const void *right)
{
    return strcmp(((const struct clip *)left)->file, ((const struct clip *)right)->file);
}

/* ---- Names of the outputs ---- */

static size_t folder_length(const char *file)
{
    const char *slash = strrchr(file, '/');
    return slash ? (size_t)(slash - file) + 1 : 0;
}

static bool has_outputs(const struct clip *c)
{
    return c->state == UNFINISHED || c->state == DONE || c->state == FINDINGS;
}

static bool named_alike(const struct clip *a, const struct clip *b)
{
    size_t n = folder_length(a->file);
    return n == folder_length(b->file) && !strncmp(a->file, b->file, n) && text_same(a->name, b->name);
}

static int by_name(const void *left, const void *right)
{
    const struct clip *a = *(struct clip *const *)left, *b = *(struct clip *const *)right;
    size_t m = folder_length(a->file), n = folder_length(b->file);
    if (m != n) return m < n ? -1 : 1;
    int order = strncmp(a->file, b->file, n);
    if (!order) order = strcasecmp(a->name, b->name);
    return order ? order : strcmp(a->file, b->file);
}

/* Every clip of a name that is not its own gets its whole name instead; a
 * second round is needed where that meets another's stem. */
static enum tc_status name_outputs(struct run *r)
{
    struct clip **list = calloc(r->count + 1, sizeof *list);
    if (!list) return no_memory(r);
    size_t n = 0;
    for (size_t i = 0; i < r->count; i++) {
        struct clip *c = &r->clips[i];
        const char *whole = c->file + folder_length(c->file), *dot = strrchr(whole, '.');
        size_t stem = has_outputs(c) ? (dot ? (size_t)(dot - whole) : strlen(whole)) : 0;
        if (!(c->name = strndup(whole, stem))) {
            free(list);
            return no_memory(r);
        }
        if (has_outputs(c)) list[n++] = c;
    }
    for (bool again = true; again;) {
        again = false;
        qsort(list, n, sizeof *list, by_name);
        for (size_t from = 0, to; from < n; from = to) {
            for (to = from + 1; to < n && named_alike(list[from], list[to]); to++) continue;
            for (size_t i = from; to - from > 1 && i < to; i++) {
                const char *whole = list[i]->file + folder_length(list[i]->file);
                if (!strcmp(list[i]->name, whole)) continue;
                char *name = strdup(whole);
                if (!name) {
                    free(list);
                    return no_memory(r);
                }
                free(list[i]->name);
                list[i]->name = name;
                again = true;
            }
        }
    }
    free(list);
    return TC_OK;
}

/* The folder that a clip's outputs go to. The caller frees it. */
static char *out_folder(const struct run *r, const struct clip *c)
{
    char *below = strndup(c->file, folder_length(c->file));
    char *folder = below ? join(r->batch->out_dir, below) : NULL;
    free(below);
    size_t n = folder ? strlen(folder) : 0;
    if (n > 1 && folder[n - 1] == '/') folder[n - 1] = 0;
    return folder;
}

static bool outputs_are_there(const struct run *r, const struct clip *c)
{
    static const char *const endings[] = { ".events.csv", ".ramps.csv", ".frames.csv", ".preview.html" };
    char *folder = out_folder(r, c), *stem = folder ? join(folder, c->name) : NULL;
    bool all = stem != NULL;
    for (size_t i = 0; i < sizeof endings / sizeof *endings && all; i++) {
        if (i == 3 && !r->batch->preview) continue;
        size_t room = strlen(stem) + strlen(endings[i]) + 1;
        char *path = calloc(1, room);
        if (path) snprintf(path, room, "%s%s", stem, endings[i]);
        struct stat st;
        all = path && !stat(path, &st) && S_ISREG(st.st_mode);
        free(path);
    }
    free(folder);
    free(stem);
    return all;
}

/* ---- The summary, which is also the memory ---- */

static void summary_head(FILE *out)
{
    fputs("file,status,message", out);
    for (int i = 0; i < FIGURES; i++) fprintf(out, ",%s", figure_rows[i].name);
    fputs(",outputs,fingerprint\r\n", out);
}

static void put_plain(FILE *out, const char *text)
{
    char plain[4 * 1024];
    putc(',', out);
    stream_cell(out, text_plain(plain, sizeof plain, text), true);
}

/* Name and content: "1a2b3c4d-0123456789abcdef", without the second while
 * there is nothing to be sure of. */
static void summary_row(FILE *out, const struct clip *c)
{
    bool fresh = c->state == DONE || c->state == FINDINGS;
    bool refused = c->state == FAILED && c->result.status == TC_ERR_EXISTS && c->remembered;
    const int64_t *figures = refused ? c->figures_before : c->result.figures;
    char plain[4 * 1024], number[32];
    stream_cell(out, text_plain(plain, sizeof plain, c->file), true);
    fprintf(out, ",%s", state_words[c->state]);
    bool finished = c->state != UNFINISHED; /* else a worker may be at its result */
    put_plain(out, finished && c->result.message ? c->result.message : "");
    for (int i = 0; i < FIGURES; i++) {
        char *end = fresh || refused ? number_fixed(number, figures[i], figure_rows[i].decimals) : number;
        fprintf(out, ",%.*s", (int)(end - number), number);
    }
    char *outputs = fresh || refused ? strndup(c->file, folder_length(c->file)) : strdup("");
    char *stem = outputs ? join(outputs, c->name) : NULL;
    put_plain(out, stem && (fresh || refused) ? stem : "");
    free(stem);
    free(outputs);
    fprintf(out, ",%08x-", (unsigned)(c->key & 0xFFFFFFFFu));
    if (fresh || refused) fprintf(out, "%016llx", (unsigned long long)(refused ? c->print_before : c->print));
    fputs("\r\n", out);
}

static enum tc_status write_summary(struct run *r)
{
    struct outfile *file;
    enum tc_status status = outfile_open(&file, r->summary_path, true, r->why);
    if (status != TC_OK) return status;
    FILE *out = outfile_stream(file);
    summary_head(out);
    for (size_t i = 0; i < r->count; i++)
        if (r->clips[i].state != PASSED_OVER) summary_row(out, &r->clips[i]);
    r->summary_at = clock_now_s();
    return outfile_commit(file, r->why);
}

static struct clip *find_clip(struct run *r, const char *name, unsigned key)
{
    char plain[4 * 1024], guarded[4 * 1024 + 1];
    for (size_t i = 0; i < r->count; i++) {
        if ((unsigned)(r->clips[i].key & 0xFFFFFFFFu) != key) continue;
        text_plain(plain, sizeof plain, r->clips[i].file);
        snprintf(guarded, sizeof guarded, "'%s", plain);
        if (!strcmp(plain, name) || !strcmp(guarded, name)) return &r->clips[i];
    }
    return NULL;
}

enum { FILE_CELL, STATUS_CELL, MESSAGE_CELL, FIGURE_CELL, OUTPUTS_CELL = FIGURE_CELL + FIGURES, PRINT_CELL, CELLS };

/* A row that makes no sense is as good as none: the clip is done again. */
static void recall_row(struct run *r, const struct csv *csv)
{
    unsigned key = 0;
    unsigned long long print = 0;
    if (csv_count(csv) != CELLS) return;
    int read = sscanf(csv_get(csv, PRINT_CELL), "%8x-%16llx", &key, &print);
    struct clip *c = read >= 1 ? find_clip(r, csv_get(csv, FILE_CELL), key) : NULL;
    if (!c) return;
    if (!strcmp(csv_get(csv, STATUS_CELL), state_words[UNFINISHED])) c->begun_before = true;
    if (read != 2) return;
    for (int i = 0; i < FIGURES; i++) {
        double value, unit = figure_rows[i].decimals == 3 ? 1000 : figure_rows[i].decimals ? 10 : 1;
        if (!number_read(csv_get(csv, (size_t)(FIGURE_CELL + i)), &value) || value < 0 || value > 1e12) return;
        c->figures_before[i] = (int64_t)(value * unit + 0.5);
    }
    bool findings = !strcmp(csv_get(csv, STATUS_CELL), state_words[FINDINGS]);
    bool failed = !strcmp(csv_get(csv, STATUS_CELL), state_words[FAILED]);
    free(c->message_before);
    c->message_before = failed ? NULL : strdup(csv_get(csv, MESSAGE_CELL));
    c->state_before = findings ? FINDINGS : DONE;
    c->print_before = print;
    c->remembered = true;
}

static bool head_is_ours(const struct csv *csv)
{
    return csv_count(csv) == CELLS && !strcmp(csv_get(csv, FILE_CELL), "file")
           && !strcmp(csv_get(csv, FIGURE_CELL + PEAK_LOAD), figure_rows[PEAK_LOAD].name)
           && !strcmp(csv_get(csv, PRINT_CELL), "fingerprint");
}

static enum tc_status recall(struct run *r)
{
    char plain[512];
    struct stat st;
    text_plain(plain, sizeof plain, r->summary_path);
    if (!stat(r->summary_path, &st) && !S_ISREG(st.st_mode))
        return problem_set(r->why, TC_ERR_WRITE, "%s: is not a file", plain);
    if (access(r->summary_path, F_OK) && errno == ENOENT) return TC_OK;
    struct file_text text;
    enum tc_status read = file_read(r->summary_path, TC_ERR_WRITE, &text, r->why);
    if (read != TC_OK) return read;
    bool empty = !text.size;
    struct csv *csv = csv_open(text.bytes, text.size);
    enum tc_status status = csv ? TC_OK : no_memory(r);
    if (status == TC_OK) {
        bool ours = csv_next(csv) == CSV_ROW && head_is_ours(csv);
        if (!ours && !empty && !r->batch->force)
            status = problem_set(r->why, TC_ERR_EXISTS,
                                 "%s: exists already and is no summary of thundercue; use --force to overwrite it", plain);
        while (ours && csv_next(csv) == CSV_ROW) recall_row(r, csv);
    }
    csv_close(csv);
    file_text_free(&text);
    return status;
}

/* ---- The output folder ---- */

static enum tc_status make_folder(struct run *r, const char *path)
{
    char *part = strdup(path), plain[512];
    if (!part) return no_memory(r);
    for (char *at = part + 1; *at; at++) {
        if (*at != '/') continue;
        *at = 0;
        mkdir(part, 0777); /* what matters is the last one */
        *at = '/';
    }
    free(part);
    int error = mkdir(path, 0777) ? errno : 0;
    struct stat st;
    if (error == EEXIST) error = stat(path, &st) ? errno : S_ISDIR(st.st_mode) ? 0 : ENOTDIR;
    if (!error) return TC_OK;
    return problem_set(r->why, TC_ERR_WRITE, "%s: the output folder can't be made: %s",
                       text_plain(plain, sizeof plain, path), strerror(error));
}

/* One run at a time in an output folder. The lock is on the folder itself, so
 * nothing is left when the process dies; where a disk knows no locks, whole
 * files still keep two runs from harming each other. */
static enum tc_status take_lock(struct run *r)
{
    char plain[512];
    r->lock = open(r->batch->out_dir, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (r->lock < 0 || !flock(r->lock, LOCK_EX | LOCK_NB) || errno != EWOULDBLOCK) return TC_OK;
    return problem_set(r->why, TC_ERR_WRITE, "%s: another thundercue batch is at work there; wait for it",
                       text_plain(plain, sizeof plain, r->batch->out_dir));
}

static void sweep(struct run *r)
{
    char *last = NULL;
    outfile_sweep(r->batch->out_dir);
    for (size_t i = 0; i < r->count; i++) { /* clips of one folder lie together */
        char *folder = out_folder(r, &r->clips[i]);
        if (folder && (!last || strcmp(folder, last)) && strcmp(folder, r->batch->out_dir)) outfile_sweep(folder);
        free(last);
        last = folder;
    }
    free(last);
}

/* ---- First round: which files are recordings, and which are done already ---- */

/* Settings, rig and version shape all outputs alike. */
static enum tc_status digest_ground(struct run *r)
{
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    if (!out) return no_memory(r);
    tc_settings_write(r->settings, true, stream_sink(out));
    fprintf(out, "preview = %d\n", r->batch->preview);
    bool written = !fclose(out);
    r->ground = digest_text(0, TC_VERSION);
    if (written) r->ground = digest_bytes(r->ground, text, size);
    free(text);
    if (!written) return no_memory(r);
    if (r->batch->rig_path && !digest_file(&r->ground, r->batch->rig_path, NULL)) r->ground = 0;
    return TC_OK;
}

static void look(void *user, size_t item)
{
    struct run *r = user;
    struct clip *c = &r->clips[item];
    struct tc_problem why = { "" };
    struct source *source = NULL;
    if (c->state != UNFINISHED || stop_asked()) return;
    c->result = (struct result){ .status = source_open(&source, c->path, &why) };
    source_close(source);
    if (c->result.status == TC_OK) {
        uint64_t print = r->ground;
        c->print = digest_file(&print, c->path, stop_asked) && r->ground ? print : 0;
    } else if (sound_has_ending(c->file) || c->result.status == TC_ERR_MEMORY) {
        c->result.state = FAILED;
        c->result.message = strdup(why.text);
    } else {
        c->result.state = PASSED_OVER;
    }
}

static void looked(void *user, size_t item)
{
    struct run *r = user;
    struct clip *c = &r->clips[item];
    if (c->state == UNFINISHED) c->state = c->result.state;
    progress_show("looking at the files");
}

/* A clip is done if its row has the same fingerprint and its files are there. */
static void keep_what_is_done(struct run *r)
{
    for (size_t i = 0; i < r->count; i++) {
        struct clip *c = &r->clips[i];
        if (r->batch->force || c->state != UNFINISHED || !c->remembered || !c->print
            || c->print != c->print_before || !outputs_are_there(r, c))
            continue;
        c->kept = true;
        c->state = c->state_before;
        memcpy(c->result.figures, c->figures_before, sizeof c->result.figures);
        c->result.message = c->message_before;
        c->message_before = NULL;
    }
}

/* ---- Second round ---- */

struct size {
    int64_t bytes;
    size_t clip;
};

static int largest_first(const void *left, const void *right)
{
    const struct size *a = left, *b = right;
    if (a->bytes != b->bytes) return a->bytes > b->bytes ? -1 : 1;
    return a->clip < b->clip ? -1 : 1;
}

/* Long clips first, so that no worker is left alone with one at the end. */
static enum tc_status plan_order(struct run *r)
{
    struct size *sizes = calloc(r->count + 1, sizeof *sizes);
    r->order = calloc(r->count + 1, sizeof *r->order);
    if (!sizes || !r->order) {
        free(sizes);
        return no_memory(r);
    }
    for (size_t i = 0; i < r->count; i++) {
        if (r->clips[i].state != UNFINISHED) continue;
        sizes[r->order_count++] = (struct size){ r->clips[i].bytes, i };
        r->bytes += r->clips[i].bytes;
    }
    qsort(sizes, r->order_count, sizeof *sizes, largest_first);
    for (size_t i = 0; i < r->order_count; i++) r->order[i] = sizes[i].clip;
    free(sizes);
    return TC_OK;
}

static void take_figures(struct clip *c, const struct outcome *o)
{
    int64_t *f = c->result.figures;
    f[LENGTH] = o->length_ms;
    f[CRACKS] = (int64_t)o->cracks;
    f[RUMBLES] = (int64_t)o->rumbles;
    f[STROKES] = (int64_t)o->strokes;
    f[PEAK_FLASHES] = 5 * o->flash.peak_transitions; /* two transitions are a flash of 1.0 */
    f[PEAK_LOAD] = (int64_t)(10 * o->load.rig.reached_w + 0.5);
}

static void work(void *user, size_t item)
{
    struct run *r = user;
    struct clip *c = &r->clips[r->order[item]];
    struct tc_problem why = { "" };
    struct outcome outcome;
    char *folder = stop_asked() ? NULL : out_folder(r, c);
    c->result = (struct result){ .state = UNFINISHED, .status = stop_asked() ? TC_ERR_STOPPED : TC_ERR_MEMORY };
    if (folder) {
        struct job job = {
            .recording = c->path, .stem = c->name, .out_dir = folder, .rig_path = r->batch->rig_path,
            .force = r->batch->force || c->begun_before, .preview = r->batch->preview,
        };
        progress_silence(true);
        c->result.status = recording_run(&job, r->rig, r->settings, &outcome, &why);
        progress_silence(false);
        if (c->result.status == TC_OK) {
            bool findings = report_findings(r->rig, &outcome);
            c->result.state = findings ? FINDINGS : DONE;
            take_figures(c, &outcome);
            if (*outcome.remark.text) c->result.message = strdup(outcome.remark.text);
            else if (findings) c->result.message = strdup("load or flash rate over its limit: see the page");
        }
        outcome_clear(&outcome);
    }
    free(folder);
    if (c->result.status == TC_OK || c->result.status == TC_ERR_STOPPED) return;
    c->result.state = FAILED;
    c->result.message = strdup(*why.text ? why.text : tc_status_text(c->result.status));
}

static void show_progress(void *user)
{
    struct run *r = user;
    double passed = clock_now_s() - r->begun;
    char text[160], pace[80] = "", failed[40] = "";
    if (r->bytes_finished > 0 && passed > 0) {
        double s = passed * (double)(r->bytes - r->bytes_finished) / (double)r->bytes_finished + 0.5;
        snprintf(pace, sizeof pace, ", %.0f s of sound a second, %d:%02d left", (double)r->length_finished / 1000 / passed,
                 (int)(s / 60), (int)s % 60);
    }
    if (r->failed) snprintf(failed, sizeof failed, ", %zu failed", r->failed);
    snprintf(text, sizeof text, "%zu of %zu clips%s%s", r->finished, r->order_count, failed, pace);
    progress_show(text);
    struct tc_problem *why = r->why;
    r->why = NULL; /* the last summary is the one that must succeed */
    if (clock_now_s() - r->summary_at > SUMMARY_EACH_S) write_summary(r);
    r->why = why;
}

static void worked(void *user, size_t item)
{
    struct run *r = user;
    struct clip *c = &r->clips[r->order[item]];
    c->state = c->result.state;
    r->finished += c->state != UNFINISHED;
    r->failed += c->state == FAILED;
    r->bytes_finished += c->bytes;
    r->length_finished += c->result.figures[LENGTH];
    show_progress(r);
}

/* ---- The end ---- */

static void add_up(const struct run *r, struct batch_sum *sum)
{
    size_t *const counters[STATES] = {
        [UNFINISHED] = &sum->unfinished, [DONE] = &sum->done, [FINDINGS] = &sum->findings,
        [FAILED] = &sum->failed, [SKIPPED] = &sum->skipped, [PASSED_OVER] = &sum->passed_over,
    };
    memset(sum, 0, sizeof *sum);
    for (size_t i = 0; i < r->count; i++) {
        const struct clip *c = &r->clips[i];
        ++*(c->kept ? &sum->kept : counters[c->state]);
        if (c->kept && c->state == FINDINGS) sum->findings++, sum->kept--;
        sum->cracks += (size_t)c->result.figures[CRACKS];
        sum->rumbles += (size_t)c->result.figures[RUMBLES];
        sum->length_ms += c->result.figures[LENGTH];
    }
}

static void tell_all(const struct run *r, batch_tell *tell, void *user)
{
    char plain[512];
    struct tc_problem line;
    for (size_t i = 0; i < r->count && tell; i++) {
        const struct clip *c = &r->clips[i];
        if (c->kept || !c->result.message || c->state == UNFINISHED || c->state == PASSED_OVER) continue;
        text_plain(plain, sizeof plain, c->path);
        bool named = !strncmp(c->result.message, plain, strlen(plain)) || c->result.status == TC_ERR_EXISTS
                     || c->result.status == TC_ERR_WRITE;
        problem_set(&line, TC_OK, "%s%s%s%s", c->state == SKIPPED ? "skipped: " : "", named ? "" : plain,
                    named ? "" : ": ", c->result.message);
        tell(user, line.text);
    }
}

static void release(struct run *r)
{
    for (size_t i = 0; i < r->count; i++) {
        free(r->clips[i].file);
        free(r->clips[i].path);
        free(r->clips[i].name);
        free(r->clips[i].result.message);
        free(r->clips[i].message_before);
    }
    free(r->clips);
    free(r->order);
    free(r->summary_path);
    if (r->lock >= 0) close(r->lock);
}

/* ---- The story ---- */

static enum tc_status find_clips(struct run *r)
{
    char plain[512];
    enum tc_status status = scan(r, "", 0);
    if (status != TC_OK) return status;
    if (r->count) qsort(r->clips, r->count, sizeof *r->clips, by_file);
    status = digest_ground(r);
    if (status != TC_OK) return status;
    pool_run(r->batch->jobs, r->count, &(struct pool_task){ r, look, looked, NULL });
    progress_clear();
    if (stop_asked()) return problem_set(r->why, TC_ERR_STOPPED, "stopped");
    size_t clips = 0;
    for (size_t i = 0; i < r->count; i++) clips += r->clips[i].state != PASSED_OVER;
    if (clips) return name_outputs(r);
    return problem_set(r->why, TC_ERR_READ, "%s: there are no recordings in this folder%s",
                       text_plain(plain, sizeof plain, r->batch->folder),
                       r->batch->recursive ? "" : "; --recursive looks into the folders below it too");
}

static enum tc_status do_clips(struct run *r)
{
    enum tc_status status = plan_order(r);
    if (status == TC_OK) status = write_summary(r);
    if (status != TC_OK) return status;
    r->begun = clock_now_s();
    pool_run(r->batch->jobs, r->order_count, &(struct pool_task){ r, work, worked, show_progress });
    progress_clear();
    return write_summary(r);
}

enum tc_status batch_run(const struct batch *b, const struct tc_rig *rig, const struct tc_settings *s,
                         struct batch_sum *sum, batch_tell *tell, void *user, struct tc_problem *why)
{
    memset(sum, 0, sizeof *sum);
    struct run r = { .batch = b, .rig = rig, .settings = s, .why = why, .lock = -1 };
    enum tc_status status = tc_settings_check(s, why);
    if (status == TC_OK) status = find_clips(&r);
    if (status == TC_OK && !(r.summary_path = join(b->out_dir, "summary.csv"))) status = no_memory(&r);
    if (status == TC_OK) status = make_folder(&r, b->out_dir);
    if (status == TC_OK) status = take_lock(&r);
    if (status == TC_OK) status = recall(&r);
    if (status == TC_OK) {
        sweep(&r);
        keep_what_is_done(&r);
        status = do_clips(&r);
        add_up(&r, sum);
        tell_all(&r, tell, user);
    }
    if (status == TC_OK && stop_asked()) status = problem_set(why, TC_ERR_STOPPED, "stopped; run it again to go on");
    release(&r);
    return status;
}
