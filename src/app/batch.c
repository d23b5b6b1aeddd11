#include "app/batch.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include "app/outputs.h"
#include "app/recording.h"
#include "app/report.h"
#include "io/child.h"
#include "io/clock.h"
#include "io/digest.h"
#include "io/folder.h"
#include "io/ledger.h"
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

enum { DEPTH_MOST = 64, SUMMARY_EACH_S = 2, LOCK_TRIES = 50, LOCK_PAUSE_US = 20000 };

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

/* What shapes the outputs of a clip. */
enum { SOUND, EVENTS, SETTINGS, RIG, VERSION, PARTS };

static const char *const part_names[PARTS] = { "the sound", "the events", "the settings", "the rig", "the program's version" };

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
    char *events;            /* an edited events file that takes the place of what is heard, or NULL */
    uint64_t key;            /* digest of its name */
    uint32_t parts[PARTS];   /* digests of all that shapes its outputs */
    struct result result;    /* the worker's, until it is done */

    enum state state;        /* from here on the caller's */
    bool sound_known;        /* it could be read for its digest */
    bool kept, begun_before; /* done before; begun before and not finished */
    bool remembered;         /* parts_before and figures_before hold */
    bool own_only;           /* its outputs may be replaced where they are as they were written */
    uint32_t parts_before[PARTS];
    int64_t figures_before[FIGURES];
    enum state state_before;
    char *message_before;
};

struct round {
    const struct batch *batch;
    const struct tc_rig *rig;
    const struct tc_settings *settings;
    struct tc_problem *why;
    struct clip *clips;      /* by file */
    size_t count, room;
    size_t *order;           /* the clips to do, largest first */
    size_t order_count;
    uint32_t ground[PARTS];  /* what shapes all outputs alike */
    char *summary_path;
    int lock;
    /* for the line of progress */
    size_t finished, failed;
    int64_t bytes, bytes_finished, length_finished;
    double begun, summary_at;
};

static enum tc_status no_memory(struct round *r)
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
static enum tc_status add_clip(struct round *r, const char *file, int64_t bytes, enum state state,
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

static enum tc_status scan(struct round *r, const char *below, int depth);

static enum tc_status scan_entry(struct round *r, const char *file, int depth)
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
static enum tc_status scan(struct round *r, const char *below, int depth)
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
static enum tc_status name_outputs(struct round *r)
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
static char *out_folder(const struct round *r, const struct clip *c)
{
    char *below = strndup(c->file, folder_length(c->file));
    char *folder = below ? join(r->batch->out_dir, below) : NULL;
    free(below);
    size_t n = folder ? strlen(folder) : 0;
    if (n > 1 && folder[n - 1] == '/') folder[n - 1] = 0;
    return folder;
}

/* How many of a clip's outputs are there; *all tells whether none is missing. */
static size_t outputs_there(const struct round *r, const struct clip *c, const char *folder, bool *all)
{
    size_t there = 0;
    *all = true;
    for (int i = 0; i < OUTPUT_COUNT; i++) {
        char *path = output_path(folder, c->name, i);
        struct stat st;
        bool is = path && !stat(path, &st) && S_ISREG(st.st_mode);
        there += is;
        if (!is && (i != OUTPUT_PREVIEW || r->batch->preview)) *all = false;
        free(path);
    }
    return there;
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

/* Name, a dash, and the parts, eight digits each; without the parts while there
 * is nothing to be sure of. */
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
    for (int i = 0; i < PARTS && (fresh || refused); i++)
        fprintf(out, "%08x", (unsigned)(refused ? c->parts_before[i] : c->parts[i]));
    fputs("\r\n", out);
}

static enum tc_status write_summary(struct round *r)
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

static struct clip *find_clip(struct round *r, const char *name, unsigned key)
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
static void recall_row(struct round *r, const struct csv *csv)
{
    unsigned key = 0, parts[PARTS] = { 0 };
    if (csv_count(csv) != CELLS) return;
    const char *print = csv_get(csv, PRINT_CELL);
    struct clip *c = sscanf(print, "%8x-", &key) == 1 ? find_clip(r, csv_get(csv, FILE_CELL), key) : NULL;
    if (!c) return;
    if (!strcmp(csv_get(csv, STATUS_CELL), state_words[UNFINISHED])) c->begun_before = true;
    if (strlen(print) != 9 + 8 * PARTS) return;
    for (int i = 0; i < PARTS; i++)
        if (sscanf(print + 9 + 8 * i, "%8x", &parts[i]) != 1) return;
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
    for (int i = 0; i < PARTS; i++) c->parts_before[i] = parts[i];
    c->remembered = true;
}

static bool head_is_ours(const struct csv *csv)
{
    return csv_count(csv) == CELLS && !strcmp(csv_get(csv, FILE_CELL), "file")
           && !strcmp(csv_get(csv, FIGURE_CELL + PEAK_LOAD), figure_rows[PEAK_LOAD].name)
           && !strcmp(csv_get(csv, PRINT_CELL), "fingerprint");
}

static enum tc_status recall(struct round *r)
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

/* One run at a time in an output folder. The lock is on the folder itself, so
 * nothing is left when the process dies; where a disk knows no locks, whole
 * files still keep two runs from harming each other. */
static enum tc_status take_lock(struct round *r)
{
    char plain[512];
    r->lock = open(r->batch->out_dir, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    for (int i = 0; r->lock >= 0 && i < LOCK_TRIES && flock(r->lock, LOCK_EX | LOCK_NB) && errno == EWOULDBLOCK; i++)
        usleep(LOCK_PAUSE_US); /* workers of a run that was killed end a little later */
    if (r->lock < 0 || !flock(r->lock, LOCK_EX | LOCK_NB) || errno != EWOULDBLOCK) return TC_OK;
    return problem_set(r->why, TC_ERR_WRITE, "%s: another thundercue batch is at work there; wait for it",
                       text_plain(plain, sizeof plain, r->batch->out_dir));
}

/* Does something once for every folder that outputs go to. */
static void for_folders(struct round *r, void (*each)(const char *folder))
{
    char *last = NULL;
    each(r->batch->out_dir);
    for (size_t i = 0; i < r->count; i++) { /* clips of one folder lie together */
        char *folder = out_folder(r, &r->clips[i]);
        if (folder && (!last || strcmp(folder, last)) && strcmp(folder, r->batch->out_dir)) each(folder);
        free(last);
        last = folder;
    }
    free(last);
}

static void sweep_one(const char *folder)
{
    outfile_sweep(folder);
}

static void sweep(struct round *r)
{
    for_folders(r, sweep_one);
}

static void tidy_one(const char *folder)
{
    if (!access(folder, W_OK)) ledger_tidy(folder);
}

static void tidy(struct round *r)
{
    for_folders(r, tidy_one);
}

/* ---- First round: which files are recordings, and which are done already ---- */

static uint32_t short_of(uint64_t digest)
{
    return (uint32_t)(digest ^ digest >> 32);
}

/* Settings, rig and version shape all outputs alike. */
static enum tc_status digest_ground(struct round *r)
{
    char *text = NULL;
    size_t size = 0;
    uint64_t rig = 0;
    FILE *out = open_memstream(&text, &size);
    if (!out) return no_memory(r);
    tc_settings_write(r->settings, true, stream_sink(out));
    bool written = !fclose(out);
    if (written) r->ground[SETTINGS] = short_of(digest_bytes(0, text, size));
    free(text);
    if (!written) return no_memory(r);
    r->ground[VERSION] = short_of(digest_text(0, TC_VERSION));
    bool known = !r->batch->rig_path || digest_file(&rig, r->batch->rig_path, NULL);
    r->ground[RIG] = known ? short_of(rig) : 1;
    return TC_OK;
}

/* A clip is opened and cued in a process of its own: a decoder that crashes, or
 * takes all memory, costs this clip alone. */
struct answer {
    struct result result;    /* its message is not a pointer that means anything here */
    uint32_t sound;
    bool sound_known, has_message;
    char message[1024];
};
_Static_assert(sizeof(struct answer) <= CHILD_ANSWER_MOST, "an answer must fit into a pipe");

struct errand {
    struct round *round;
    struct clip *clip;
    void (*task)(struct round *r, struct clip *c);
};

static void run_errand(void *user, void *to)
{
    struct errand *e = user;
    struct answer *a = to;
    e->task(e->round, e->clip);
    a->result = e->clip->result;
    a->sound = e->clip->parts[SOUND];
    a->sound_known = e->clip->sound_known;
    a->has_message = e->clip->result.message != NULL;
    snprintf(a->message, sizeof a->message, "%s", a->has_message ? e->clip->result.message : "");
    free(e->clip->result.message);
    e->clip->result.message = NULL;
}

/* What is to be said of a process that ended without an answer. */
static void say_end(const struct clip *c, enum child_end end, int how, char *to, size_t size)
{
    char plain[512];
    text_plain(plain, sizeof plain, c->path);
    if (end == CHILD_SIGNALLED && how == SIGKILL)
        snprintf(to, size, "%s: was ended while at work, perhaps for want of memory", plain);
    else if (end == CHILD_SIGNALLED)
        snprintf(to, size, "%s: reading or cueing it crashed (%s); the other clips are not touched by that", plain, strsignal(how));
    else
        snprintf(to, size, "%s: reading or cueing it ended too early (exit status %d)", plain, how);
}

static void run_apart(struct round *r, struct clip *c, void (*task)(struct round *r, struct clip *c))
{
    struct answer a;
    memset(&a, 0, sizeof a);
    int how;
    enum child_end end = child_run(run_errand, &(struct errand){ r, c, task }, &a, sizeof a, r->lock, &how);
    if (end != CHILD_ANSWERED) {
        bool stopped = stop_asked();
        memset(&a, 0, sizeof a);
        a.result = (struct result){ .state = stopped ? UNFINISHED : FAILED, .status = stopped ? TC_ERR_STOPPED : TC_ERR_INTERNAL };
        a.has_message = !stopped;
        say_end(c, end, how, a.message, sizeof a.message);
    }
    c->result = a.result;
    c->parts[SOUND] = a.sound;
    c->sound_known = a.sound_known;
    c->result.message = a.has_message ? strdup(a.message) : NULL;
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
        c->parts[SOUND] = short_of(sound);
    } else {
        c->result.state = FAILED;
        c->result.message = strdup(why.text);
    }
}

static void look(void *user, size_t item)
{
    struct round *r = user;
    struct clip *c = &r->clips[item];
    if (c->state != UNFINISHED || stop_asked()) return;
    if (!sound_looks_like(c->path)) {
        c->result = (struct result){ .state = PASSED_OVER };
        return;
    }
    memcpy(c->parts, r->ground, sizeof c->parts);
    run_apart(r, c, look_here);
}

static void looked(void *user, size_t item)
{
    struct round *r = user;
    struct clip *c = &r->clips[item];
    if (c->state == UNFINISHED) c->state = c->result.state;
    progress_show("looking at the files");
}

/* "the rig and the settings have changed" */
static void say_changes(const struct clip *c, char *to, size_t size)
{
    int changed = 0, said = 0;
    size_t used = 0;
    for (int i = 0; i < PARTS; i++) changed += c->parts[i] != c->parts_before[i];
    *to = 0;
    for (int i = 0; i < PARTS; i++) {
        if (c->parts[i] == c->parts_before[i]) continue;
        const char *gap = !said ? "" : said + 1 == changed ? " and " : ", ";
        used += (size_t)snprintf(to + used, size - used, "%s%s", gap, part_names[i]);
        said++;
    }
    snprintf(to + used, size - used, " %s changed since", changed == 1 && c->parts[SETTINGS] == c->parts_before[SETTINGS]
             && c->parts[EVENTS] == c->parts_before[EVENTS] ? "has" : "have");
}

static enum tc_status refuse(struct round *r, struct clip *c, const char *folder)
{
    char changes[160] = "it was not written by a batch of this folder", plain[512];
    struct tc_problem why;
    char *path = output_path(folder, c->name, OUTPUT_FRAMES);
    if (!path) return no_memory(r);
    if (c->remembered) say_changes(c, changes, sizeof changes);
    problem_set(&why, TC_OK, "%s: exists already, and %s; use --force to do this clip again",
                text_plain(plain, sizeof plain, path), changes);
    free(path);
    c->state = FAILED;
    c->result = (struct result){ .state = FAILED, .status = TC_ERR_EXISTS, .message = strdup(why.text) };
    return c->result.message ? TC_OK : no_memory(r);
}

/* An events file that is not as thundercue wrote it is the user's: the clip is
 * cued from it, and it stays. */
static enum tc_status find_edits(struct round *r, struct clip *c, const char *folder, const struct ledger *ledger)
{
    char *path = output_path(folder, c->name, OUTPUT_EVENTS);
    uint64_t digest = 0;
    if (!path) return no_memory(r);
    enum ledger_word word = ledger_look(ledger, path);
    bool edited = !r->batch->discard_edits && (word == LEDGER_EDITED || word == LEDGER_UNKNOWN);
    if (edited && digest_file(&digest, path, NULL)) c->parts[EVENTS] = short_of(digest);
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

/* What is to be done with a clip: nothing, if its row has the same parts and
 * its files are there; it is refused where files are there that were made of
 * something else, unless only their events were edited. */
static enum tc_status decide(struct round *r, struct clip *c, const char *folder, const struct ledger *ledger)
{
    enum tc_status status = find_edits(r, c, folder, ledger);
    if (status != TC_OK || r->batch->force || r->batch->discard_edits) return status;
    bool all, same = c->remembered && c->sound_known, same_but_events = same;
    size_t there = outputs_there(r, c, folder, &all);
    if (c->events && there == 1 && !c->remembered) return TC_OK; /* nothing but events */
    for (int i = 0; i < PARTS && c->remembered; i++) {
        bool alike = c->parts[i] == c->parts_before[i];
        same = same && alike;
        same_but_events = same_but_events && (alike || i == EVENTS);
    }
    c->own_only = same_but_events || c->begun_before;
    if (same && all) keep(c);
    else if (there && !c->own_only) status = refuse(r, c, folder);
    return status;
}

static enum tc_status decide_all(struct round *r)
{
    char *last = NULL;
    struct ledger *ledger = NULL;
    enum tc_status status = TC_OK;
    for (size_t i = 0; i < r->count && status == TC_OK; i++) {
        struct clip *c = &r->clips[i];
        if (c->state != UNFINISHED) continue;
        char *folder = out_folder(r, c);
        if (!folder) status = no_memory(r);
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
static enum tc_status plan_order(struct round *r)
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

static void work_here(struct round *r, struct clip *c)
{
    struct tc_problem why = { "" };
    struct outcome outcome;
    char *folder = stop_asked() ? NULL : out_folder(r, c);
    c->result = (struct result){ .state = UNFINISHED, .status = stop_asked() ? TC_ERR_STOPPED : TC_ERR_MEMORY };
    if (folder) {
        struct job job = {
            .recording = c->path, .stem = c->name, .out_dir = folder, .rig_path = r->batch->rig_path,
            .events = c->events, .inputs = r->batch->inputs,
            .over = r->batch->discard_edits ? OVER_EDITS : r->batch->force || c->own_only || c->events ? OVER_OURS : OVER_NOTHING,
            .preview = r->batch->preview,
        };
        progress_silence(true);
        c->result.status = recording_run(&job, r->rig, r->settings, &outcome, &why);
        progress_silence(false);
        if (c->result.status == TC_OK) {
            bool findings = report_findings(r->rig, &outcome);
            c->result.state = findings ? FINDINGS : DONE;
            take_figures(c, &outcome);
            if (c->events) c->result.message = strdup("cued from the edited events file beside the timelines");
            else if (*outcome.remark.text) c->result.message = strdup(outcome.remark.text);
            else if (findings) c->result.message = strdup("load or flash rate over its limit: see the page");
        }
        outcome_clear(&outcome);
    }
    free(folder);
    if (c->result.status == TC_OK || c->result.status == TC_ERR_STOPPED) return;
    c->result.state = FAILED;
    c->result.message = strdup(*why.text ? why.text : tc_status_text(c->result.status));
}

static void work(void *user, size_t item)
{
    struct round *r = user;
    struct clip *c = &r->clips[r->order[item]];
    if (stop_asked()) c->result = (struct result){ .state = UNFINISHED, .status = TC_ERR_STOPPED };
    else run_apart(r, c, work_here);
}

static void show_progress(void *user)
{
    struct round *r = user;
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
    struct round *r = user;
    struct clip *c = &r->clips[r->order[item]];
    c->state = c->result.state;
    r->finished += c->state != UNFINISHED;
    r->failed += c->state == FAILED;
    r->bytes_finished += c->bytes;
    r->length_finished += c->result.figures[LENGTH];
    show_progress(r);
}

/* ---- The end ---- */

static void add_up(const struct round *r, struct batch_sum *sum)
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

static void tell_all(const struct round *r, batch_tell *tell, void *user)
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

static void release(struct round *r)
{
    for (size_t i = 0; i < r->count; i++) {
        free(r->clips[i].file);
        free(r->clips[i].path);
        free(r->clips[i].name);
        free(r->clips[i].events);
        free(r->clips[i].result.message);
        free(r->clips[i].message_before);
    }
    free(r->clips);
    free(r->order);
    free(r->summary_path);
    if (r->lock >= 0) close(r->lock);
}

/* ---- The story ---- */

static size_t workers(const struct round *r)
{
    size_t room = child_room();
    return r->batch->jobs < room ? r->batch->jobs : room;
}

static enum tc_status find_clips(struct round *r)
{
    char plain[512];
    enum tc_status status = scan(r, "", 0);
    if (status != TC_OK) return status;
    if (r->count) qsort(r->clips, r->count, sizeof *r->clips, by_file);
    status = digest_ground(r);
    if (status != TC_OK) return status;
    pool_run(workers(r), r->count, &(struct pool_task){ r, look, looked, NULL });
    progress_clear();
    if (stop_asked()) return problem_set(r->why, TC_ERR_STOPPED, "stopped");
    size_t clips = 0;
    for (size_t i = 0; i < r->count; i++) clips += r->clips[i].state != PASSED_OVER;
    if (clips) return name_outputs(r);
    return problem_set(r->why, TC_ERR_READ, "%s: there are no recordings in this folder%s",
                       text_plain(plain, sizeof plain, r->batch->folder),
                       r->batch->recursive ? "" : "; --recursive looks into the folders below it too");
}

static enum tc_status do_clips(struct round *r)
{
    enum tc_status status = plan_order(r);
    if (status == TC_OK) status = write_summary(r);
    if (status != TC_OK) return status;
    r->begun = clock_now_s();
    pool_run(workers(r), r->order_count, &(struct pool_task){ r, work, worked, show_progress });
    progress_clear();
    return write_summary(r);
}

enum tc_status batch_run(const struct batch *b, const struct tc_rig *rig, const struct tc_settings *s,
                         struct batch_sum *sum, batch_tell *tell, void *user, struct tc_problem *why)
{
    memset(sum, 0, sizeof *sum);
    struct round r = { .batch = b, .rig = rig, .settings = s, .why = why, .lock = -1 };
    enum tc_status status = tc_settings_check(s, why);
    if (status == TC_OK) status = find_clips(&r);
    if (status == TC_OK && !(r.summary_path = join(b->out_dir, "summary.csv"))) status = no_memory(&r);
    if (status == TC_OK) status = folder_make(b->out_dir, why);
    if (status == TC_OK) status = take_lock(&r);
    if (status == TC_OK) status = recall(&r);
    if (status == TC_OK) {
        sweep(&r);
        status = decide_all(&r);
        if (status == TC_OK) status = do_clips(&r);
        tidy(&r);
        add_up(&r, sum);
        tell_all(&r, tell, user);
    }
    if (status == TC_OK && stop_asked()) status = problem_set(why, TC_ERR_STOPPED, "stopped; run it again to go on");
    release(&r);
    return status;
}
