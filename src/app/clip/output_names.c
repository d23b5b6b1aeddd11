#include "app/clip/output_names.h"

#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "words/text.h"

size_t output_folder_length(const char *file)
{
    const char *slash = strrchr(file, '/');
    return slash ? (size_t)(slash - file) + 1 : 0;
}

static bool named_alike(const struct output_name *a, const struct output_name *b)
{
    size_t n = output_folder_length(a->file);
    return n == output_folder_length(b->file) && !strncmp(a->file, b->file, n) && text_same(a->name, b->name);
}

static int by_name(const void *left, const void *right)
{
    const struct output_name *a = *(struct output_name *const *)left, *b = *(struct output_name *const *)right;
    size_t m = output_folder_length(a->file), n = output_folder_length(b->file);
    if (m != n) return m < n ? -1 : 1;
    int order = strncmp(a->file, b->file, n);
    if (!order) order = strcasecmp(a->name, b->name);
    return order ? order : strcmp(a->file, b->file);
}

static bool name_stems(struct output_name *list, size_t count)
{
    for (size_t i = 0; i < count; i++) list[i].name = NULL;
    for (size_t i = 0; i < count; i++) {
        const char *whole = list[i].file + output_folder_length(list[i].file), *dot = strrchr(whole, '.');
        if (!(list[i].name = strndup(whole, dot ? (size_t)(dot - whole) : strlen(whole)))) return false;
    }
    return true;
}

/* Gives those of one name their whole names; *changed if any hadn't. */
static bool name_in_full(struct output_name **alike, size_t count, bool *changed)
{
    for (size_t i = 0; i < count; i++) {
        const char *whole = alike[i]->file + output_folder_length(alike[i]->file);
        if (!strcmp(alike[i]->name, whole)) continue;
        char *name = strdup(whole);
        if (!name) return false;
        free(alike[i]->name);
        alike[i]->name = name;
        *changed = true;
    }
    return true;
}

/* A second round is needed where a whole name meets another's stem. */
bool output_names_find(struct output_name *list, size_t count)
{
    struct output_name **by = calloc(count + 1, sizeof *by);
    bool fine = name_stems(list, count) && by;
    for (size_t i = 0; fine && i < count; i++) by[i] = &list[i];
    for (bool again = true; fine && again;) {
        again = false;
        qsort(by, count, sizeof *by, by_name);
        for (size_t from = 0, to; fine && from < count; from = to) {
            for (to = from + 1; to < count && named_alike(by[from], by[to]); to++) continue;
            if (to - from > 1) fine = name_in_full(by + from, to - from, &again);
        }
    }
    free(by);
    return fine;
}
