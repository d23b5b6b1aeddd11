/* The clips of a batch: found in the folder, and what their files are called. */
#include <dirent.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "app/batch/batch.h"
#include "app/batch/batch_round.h"
#include "app/clip/output_names.h"
#include "app/clip/run_names.h"
#include "io/files/digest.h"
#include "io/files/folder.h"
#include "words/status.h"
#include "words/text.h"

enum { DEPTH_MOST = 64 };

/* ---- What is in the folder ---- */

/* A row for a file below the folder. `reason`: why it is skipped, or NULL. */
static enum tc_status add_clip(struct round *r, const char *file, int64_t bytes, enum clip_state state,
                               const char *reason)
{
    if (r->count == r->room) {
        size_t room = r->room ? 2 * r->room : 64;
        struct clip *more = realloc(r->clips, room * sizeof *more);
        if (!more) return round_no_memory(r);
        r->clips = more;
        r->room = room;
    }
    struct clip *c = &r->clips[r->count++];
    *c = (struct clip){ .bytes = bytes, .state = state, .key = digest_text(1, file) };
    c->file = strdup(file);
    c->path = folder_join(r->batch->folder, file);
    if (reason) c->result.message = strdup(reason);
    return c->file && c->path && (!reason || c->result.message) ? TC_OK : round_no_memory(r);
}

static enum tc_status scan(struct round *r, const char *below, int depth);

static enum tc_status scan_entry(struct round *r, const char *file, int depth)
{
    char *path = folder_join(r->batch->folder, file);
    if (!path) return round_no_memory(r);
    struct stat st, link;
    bool is_link = !lstat(path, &link) && S_ISLNK(link.st_mode);
    int error = stat(path, &st) ? errno : 0;
    free(path);
    if (error) return add_clip(r, file, 0, CLIP_SKIPPED, strerror(error));
    if (S_ISREG(st.st_mode)) return add_clip(r, file, st.st_size, CLIP_UNFINISHED, NULL);
    if (!S_ISDIR(st.st_mode)) return add_clip(r, file, 0, CLIP_SKIPPED, "is not a file");
    if (!r->batch->recursive) return TC_OK;
    if (is_link)
        return add_clip(r, file, 0, CLIP_SKIPPED, "is a link to a folder, and links to folders are not followed");
    if (depth == DEPTH_MOST) return add_clip(r, file, 0, CLIP_SKIPPED, "lies too deep");
    return scan(r, file, depth + 1);
}

/* Hidden files are left alone. */
static enum tc_status scan(struct round *r, const char *below, int depth)
{
    char *path = folder_join(r->batch->folder, below);
    if (!path) return round_no_memory(r);
    DIR *dir = opendir(path);
    int error = errno;
    enum tc_status status = TC_OK;
    char plain[512];
    if (!dir && !*below)
        status = problem_set(r->why, TC_ERR_READ, "%s: the folder can't be read: %s",
                             text_plain(plain, sizeof plain, path), strerror(error));
    else if (!dir)
        status = add_clip(r, below, 0, CLIP_FAILED, strerror(error));
    free(path);
    if (!dir) return status;
    for (struct dirent *entry; status == TC_OK && (entry = readdir(dir));) {
        if (entry->d_name[0] == '.') continue;
        char *file = folder_join(below, entry->d_name);
        status = file ? scan_entry(r, file, depth) : round_no_memory(r);
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

static bool has_outputs(const struct clip *c)
{
    return c->state == CLIP_UNFINISHED || c->state == CLIP_DONE || c->state == CLIP_FINDINGS;
}

enum tc_status round_name_outputs(struct round *r)
{
    struct output_name *list = calloc(r->count + 1, sizeof *list);
    if (!list) return round_no_memory(r);
    size_t n = 0;
    for (size_t i = 0; i < r->count; i++)
        if (has_outputs(&r->clips[i])) list[n++].file = r->clips[i].file;
    bool fine = output_names_find(list, n);
    n = 0;
    for (size_t i = 0; i < r->count; i++) {
        struct clip *c = &r->clips[i];
        c->name = has_outputs(c) ? list[n++].name : strdup("");
        fine = fine && c->name;
    }
    free(list);
    return fine ? TC_OK : round_no_memory(r);
}

/* The folder that a clip's outputs go to. The caller frees it. */
char *clip_out_folder(const struct round *r, const struct clip *c)
{
    char *below = strndup(c->file, output_folder_length(c->file));
    char *folder = below ? folder_join(r->batch->out_dir, below) : NULL;
    free(below);
    size_t n = folder ? strlen(folder) : 0;
    if (n > 1 && folder[n - 1] == '/') folder[n - 1] = 0;
    return folder;
}

/* How many of a clip's outputs are there; *all tells whether none is missing. */
size_t clip_files_there(const struct round *r, const struct clip *c, const char *folder, bool *all)
{
    size_t there = 0;
    *all = true;
    for (int i = 0; i < RUN_FILES; i++) {
        char *path = run_file_path(folder, c->name, i);
        struct stat st;
        bool is = path && !stat(path, &st) && S_ISREG(st.st_mode);
        there += is;
        if (!is && (i != RUN_PAGE || r->batch->preview)) *all = false;
        free(path);
    }
    return there;
}

enum tc_status round_scan(struct round *r)
{
    enum tc_status status = scan(r, "", 0);
    if (status == TC_OK && r->count) qsort(r->clips, r->count, sizeof *r->clips, by_file);
    return status;
}
