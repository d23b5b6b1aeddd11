/* summary.csv: written while a batch is at work, and recalled by the next. */
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "app/batch/batch.h"
#include "app/batch/batch_round.h"
#include "app/clip/output_names.h"
#include "io/files/folder.h"
#include "io/files/outfile.h"
#include "io/files/read_file.h"
#include "io/files/stream.h"
#include "io/process/clock.h"
#include "words/csv.h"
#include "words/numbers.h"
#include "words/status.h"
#include "words/text.h"

static const char *const state_words[CLIP_STATES] = {
    [CLIP_UNFINISHED] = "unfinished", [CLIP_DONE] = "done", [CLIP_FINDINGS] = "findings",
    [CLIP_FAILED] = "failed", [CLIP_REFUSED] = "refused", [CLIP_SKIPPED] = "skipped", [CLIP_PASSED_OVER] = "",
};

static const struct {
    const char *name;
    int decimals;
} figure_rows[FIGURES] = {
    [FIGURE_LENGTH]       = { "seconds", 3 },
    [FIGURE_CRACKS]       = { "cracks", 0 },
    [FIGURE_RUMBLES]      = { "rumbles", 0 },
    [FIGURE_STROKES]      = { "strokes", 0 },
    [FIGURE_PEAK_FLASHES] = { "peak_flashes", 1 },
    [FIGURE_PEAK_LOAD]    = { "peak_load_w", 1 },
};

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
    bool fresh = c->state == CLIP_DONE || c->state == CLIP_FINDINGS;
    bool refused = c->state == CLIP_REFUSED && c->remembered;
    const int64_t *figures = refused ? c->figures_before : c->result.figures;
    char plain[4 * 1024], number[32];
    stream_cell(out, text_plain(plain, sizeof plain, c->file), true);
    fprintf(out, ",%s", state_words[c->state]);
    bool finished = c->state != CLIP_UNFINISHED; /* else a worker may be at its result */
    put_plain(out, finished && c->result.message ? c->result.message : "");
    for (int i = 0; i < FIGURES; i++) {
        char *end = fresh || refused ? number_fixed(number, figures[i], figure_rows[i].decimals) : number;
        fprintf(out, ",%.*s", (int)(end - number), number);
    }
    char *outputs = fresh || refused ? strndup(c->file, output_folder_length(c->file)) : strdup("");
    char *stem = outputs ? folder_join(outputs, c->name) : NULL;
    put_plain(out, stem && (fresh || refused) ? stem : "");
    free(stem);
    free(outputs);
    fprintf(out, ",%08x-", (unsigned)(c->key & 0xFFFFFFFFu));
    for (int i = 0; i < PARTS && (fresh || refused); i++)
        fprintf(out, "%08x", (unsigned)(refused ? c->parts_before[i] : c->parts[i]));
    fputs("\r\n", out);
}

enum tc_status summary_write(struct round *r)
{
    struct outfile *file;
    enum tc_status status = outfile_open(&file, r->summary_path, true, r->why);
    if (status != TC_OK) return status;
    FILE *out = outfile_stream(file);
    summary_head(out);
    for (size_t i = 0; i < r->count; i++)
        if (r->clips[i].state != CLIP_PASSED_OVER) summary_row(out, &r->clips[i]);
    r->summary_at = clock_now_s();
    return outfile_commit(file, r->why);
}

static struct clip *find_clip(struct round *r, const char *name, unsigned key)
{
    char plain[4 * 1024];
    for (size_t i = 0; i < r->count; i++) {
        if ((unsigned)(r->clips[i].key & 0xFFFFFFFFu) != key) continue;
        text_plain(plain, sizeof plain, r->clips[i].file);
        if (!strcmp(plain, name) || !strcmp(plain, csv_unguarded(name))) return &r->clips[i];
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
    if (!strcmp(csv_get(csv, STATUS_CELL), state_words[CLIP_UNFINISHED])) c->begun_before = true;
    if (strlen(print) != 9 + 8 * PARTS) return;
    for (int i = 0; i < PARTS; i++)
        if (sscanf(print + 9 + 8 * i, "%8x", &parts[i]) != 1) return;
    for (int i = 0; i < FIGURES; i++) {
        double value, unit = figure_rows[i].decimals == 3 ? 1000 : figure_rows[i].decimals ? 10 : 1;
        if (!number_read(csv_get(csv, (size_t)(FIGURE_CELL + i)), &value) || value < 0 || value > 1e12) return;
        c->figures_before[i] = (int64_t)(value * unit + 0.5);
    }
    bool findings = !strcmp(csv_get(csv, STATUS_CELL), state_words[CLIP_FINDINGS]);
    bool refused = !strcmp(csv_get(csv, STATUS_CELL), state_words[CLIP_REFUSED]);
    free(c->message_before);
    c->message_before = refused ? NULL : strdup(csv_get(csv, MESSAGE_CELL));
    c->state_before = findings ? CLIP_FINDINGS : CLIP_DONE;
    for (int i = 0; i < PARTS; i++) c->parts_before[i] = parts[i];
    c->remembered = true;
}

static bool head_is_ours(const struct csv *csv)
{
    return csv_count(csv) == CELLS && !strcmp(csv_get(csv, FILE_CELL), "file")
           && !strcmp(csv_get(csv, FIGURE_CELL + FIGURE_PEAK_LOAD), figure_rows[FIGURE_PEAK_LOAD].name)
           && !strcmp(csv_get(csv, PRINT_CELL), "fingerprint");
}

enum tc_status summary_recall(struct round *r)
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
    enum tc_status status = csv ? TC_OK : round_no_memory(r);
    if (status == TC_OK) {
        bool ours = csv_next(csv) == CSV_ROW && head_is_ours(csv);
        if (!ours && !empty && !r->batch->force)
            status = problem_set(r->why, TC_ERR_EXISTS,
                                 "%s: exists already and is no summary of thundercue; use --force to overwrite it",
                                 plain);
        while (ours && csv_next(csv) == CSV_ROW) recall_row(r, csv);
    }
    csv_close(csv);
    file_text_free(&text);
    return status;
}
