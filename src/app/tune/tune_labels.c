#include "app/tune/tune_labels.h"

#include <dirent.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>

#include "words/status.h"
#include "words/text.h"

static const char ending[] = ".labels.csv";

void label_note(struct label_notes *notes, const char *format, ...)
{
    if (notes->count == sizeof notes->lines / sizeof *notes->lines) return;
    struct tc_problem *line = &notes->lines[notes->count++];
    va_list list;
    va_start(list, format);
    vsnprintf(line->text, sizeof line->text, format, list);
    va_end(list);
}

/* ---- Names ---- */

static const char *name_of(const char *path)
{
    const char *slash = strrchr(path, '/');
    return slash ? slash + 1 : path;
}

/* Letters of a file's name before its ending. */
static size_t stem(const char *name)
{
    const char *dot = strrchr(name, '.');
    return dot ? (size_t)(dot - name) : strlen(name);
}

char *labels_beside(const char *recording)
{
    size_t length = (size_t)(name_of(recording) - recording) + stem(name_of(recording));
    char *path = calloc(1, length + sizeof ending);
    if (!path) return NULL;
    memcpy(path, recording, length);
    memcpy(path + length, ending, sizeof ending);
    struct stat st;
    if (!stat(path, &st)) return path;
    free(path);
    return NULL;
}

/* Letters before what makes a name look like labels: "clap" of
 * "clap.label.csv", "clap.wav" of "clap.wav-Labels.csv"; 0 if nothing does. */
static size_t labelled_stem(const char *name)
{
    static const char *const words[] = { "labels.csv", "label.csv" };
    size_t length = strlen(name);
    for (size_t i = 0; i < sizeof words / sizeof *words; i++) {
        size_t word = strlen(words[i]);
        if (length > word + 1 && strchr("._- ", name[length - word - 1]) && !strcasecmp(name + length - word, words[i]))
            return length - word - 1;
    }
    return 0;
}

static bool starts_alike(const char *a, size_t a_length, const char *b, size_t b_length)
{
    return a_length == b_length && !strncasecmp(a, b, a_length);
}

static void look_at(const char *file, char *const *recordings, size_t count, bool others, void (*say)(const char *line))
{
    size_t length = labelled_stem(file);
    if (!length) return;
    const char *meant = NULL;
    for (size_t i = 0; i < count; i++) {
        const char *name = name_of(recordings[i]);
        size_t own = stem(name);
        if (!strncmp(file, name, own) && !strcmp(file + own, ending)) return; /* used */
        if (starts_alike(file, length, name, own) || starts_alike(file, length, name, strlen(name))) meant = name;
    }
    char line[1024], plain[256], recording[256];
    text_plain(plain, sizeof plain, file);
    if (meant) {
        text_plain(recording, sizeof recording, meant);
        snprintf(line, sizeof line, "%s is not used: labels of %s must be named %.*s%s", plain, recording,
                 (int)stem(recording), recording, ending);
    } else {
        snprintf(line, sizeof line, "%s is not used: there is no recording of that name beside it", plain);
    }
    if (meant || others) say(line);
}

void labels_misnamed(const char *folder, char *const *recordings, size_t count, bool others,
                     void (*say)(const char *line))
{
    struct dirent **entries;
    int n = scandir(folder, &entries, NULL, alphasort);
    if (n < 0) return; /* the recordings tell of that */
    for (int i = 0; i < n; i++) {
        if (entries[i]->d_name[0] != '.') look_at(entries[i]->d_name, recordings, count, others, say);
        free(entries[i]);
    }
    free(entries);
}

/* ---- What can't be meant ---- */

static double seconds(int64_t ms)
{
    return (double)ms / 1000;
}

/* What would be right for a time after the end. */
static const char *times_are(char *to, size_t size, int64_t start_ms, int64_t length_ms)
{
    int64_t smaller = start_ms / 1000;
    snprintf(to, size, "times are in seconds from its start");
    if (smaller < length_ms)
        snprintf(to, size, "times are in seconds; if these are milliseconds, this one should be %.3f", seconds(smaller));
    return to;
}

static enum tc_status leave_out_late(struct marks *m, const char *file, int64_t length_ms, struct label_notes *notes,
                                     struct tc_problem *why)
{
    size_t kept = m->count;
    while (kept && m->labels[kept - 1].event.start_ms >= length_ms) kept--;
    if (kept == m->count) return TC_OK;
    const struct label *first = &m->labels[kept];
    char right[120], more[60] = "";
    times_are(right, sizeof right, first->event.start_ms, length_ms);
    size_t others = m->count - kept - 1;
    if (!kept)
        return problem_set(why, TC_ERR_FORM, "%s:%ld: start_s %.3f, like all others, is after the end of the recording at "
                           "%.3f s; %s", file, first->line, seconds(first->event.start_ms), seconds(length_ms), right);
    if (others) snprintf(more, sizeof more, " (and so %s %zu more)", others == 1 ? "is" : "are", others);
    label_note(notes, "%s:%ld: start_s %.3f is after the end of the recording at %.3f s and left out%s; %s", file,
               first->line, seconds(first->event.start_ms), seconds(length_ms), more, right);
    m->count = kept;
    return TC_OK;
}

/* What none counts as: a crack that must be found. */
static int weight_of(const struct label *l)
{
    return l->weight ? l->weight : 2;
}

static void leave_out_doubles(struct marks *m, const char *file, struct label_notes *notes)
{
    size_t kept = 0, doubles = 0;
    struct label first = { 0 }, before = { 0 };
    for (size_t i = 0; i < m->count; i++) {
        struct label *l = &m->labels[i], *last = kept ? &m->labels[kept - 1] : NULL;
        bool again = last && l->event.kind == TC_CRACK && last->event.kind == TC_CRACK
                     && l->event.start_ms == last->event.start_ms;
        if (!again) {
            m->labels[kept++] = *l;
            continue;
        }
        if (!doubles++) first = *l, before = *last;
        if (weight_of(l) > weight_of(last)) *last = *l;
    }
    m->count = kept;
    if (!doubles) return;
    char more[60] = "";
    if (doubles > 1) snprintf(more, sizeof more, " (and %zu more like it)", doubles - 1);
    label_note(notes, "%s:%ld: line %ld has a crack at %.3f s, too; it counts once%s: delete one of the two", file,
               first.line, before.line, seconds(first.event.start_ms), more);
}

enum tc_status labels_fit(struct marks *m, const char *path, int64_t length_ms, struct label_notes *notes,
                          struct tc_problem *why)
{
    char file[256];
    text_plain(file, sizeof file, strcmp(path, "-") ? path : "standard input");
    if (*m->remark) label_note(notes, "%s: %s", file, m->remark);
    enum tc_status status = leave_out_late(m, file, length_ms, notes, why);
    if (status == TC_OK) leave_out_doubles(m, file, notes);
    return status;
}
