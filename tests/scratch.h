/* A folder of its own for a test that writes files, and the real recordings
 * where they can be had. */
#ifndef TC_TESTS_SCRATCH_H
#define TC_TESTS_SCRATCH_H

#include <dirent.h>
#include <ftw.h>
#include <sys/stat.h>
#include <unistd.h>

#include "check.h"

static inline void scratch_make(char *folder, size_t size)
{
    const char *base = getenv("TMPDIR");
    if (!base || !*base) base = access("/dev/shm", W_OK) ? "/tmp" : "/dev/shm"; /* memory: no waiting for a disk */
    snprintf(folder, size, "%s/thundercue-test-XXXXXX", base);
    assert_non_null(mkdtemp(folder));
}

static inline int scratch_remove_one(const char *path, const struct stat *st, int kind, struct FTW *where)
{
    (void)st, (void)kind, (void)where;
    return remove(path);
}

/* Removes the folder and all that lies in it. */
static inline void scratch_remove(const char *folder)
{
    nftw(folder, scratch_remove_one, 16, FTW_DEPTH | FTW_PHYS);
}

/* ---- One folder for a suite: set up and taken down with its tests or its group ---- */

static inline char *scratch_folder(void)
{
    static char folder[256];
    return folder;
}

static inline int scratch_set_up(void **state)
{
    (void)state;
    scratch_make(scratch_folder(), 256);
    return 0;
}

static inline int scratch_tear_down(void **state)
{
    (void)state;
    scratch_remove(scratch_folder());
    return 0;
}

/* A path in it, good for the next seven calls; names may be too long for a disk. */
static inline const char *scratch_at(const char *name)
{
    static char paths[8][16384];
    static int next;
    char *path = paths[next++ % 8];
    snprintf(path, sizeof paths[0], "%s/%s", scratch_folder(), name);
    return path;
}

static inline void scratch_write(const char *path, const void *bytes, size_t size)
{
    FILE *out = fopen(path, "wb");
    assert_non_null(out);
    if (size) assert_int_equal(fwrite(bytes, 1, size, out), size);
    assert_int_equal(fclose(out), 0);
}

/* A text in it. */
static inline void scratch_put(const char *name, const char *text)
{
    scratch_write(scratch_at(name), text, strlen(text));
}

/* ---- Reading ---- */

/* All of a file, NUL-terminated; the caller frees. NULL if it is not there. */
static inline char *scratch_read(const char *path, size_t *size)
{
    FILE *in = fopen(path, "rb");
    if (!in) return NULL;
    fseek(in, 0, SEEK_END);
    long length = ftell(in);
    rewind(in);
    char *text = calloc((size_t)length + 1, 1);
    assert_non_null(text);
    size_t got = fread(text, 1, (size_t)length, in);
    fclose(in);
    if (size) *size = got;
    return text;
}

/* The folder of labelled recordings, or NULL. */
static inline const char *recordings_folder(void)
{
    static const char *const beside = "../shared/recordings";
    const char *given = getenv("THUNDERCUE_RECORDINGS");
    if (given) return access(given, R_OK) ? NULL : given;
    return access(beside, R_OK) ? NULL : beside;
}

/* The recordings in it, by name, ended by NULL; the caller frees list and names. */
static inline char **recordings_list(void)
{
    const char *folder = recordings_folder();
    struct dirent **entries;
    int n = folder ? scandir(folder, &entries, NULL, alphasort) : 0;
    char **list = calloc((size_t)(n > 0 ? n : 0) + 1, sizeof *list);
    size_t count = 0;
    for (int i = 0; i < n; i++) {
        const char *dot = strrchr(entries[i]->d_name, '.');
        if (dot && (!strcmp(dot, ".flac") || !strcmp(dot, ".ogg") || !strcmp(dot, ".wav") || !strcmp(dot, ".mp3"))) {
            size_t room = strlen(folder) + strlen(entries[i]->d_name) + 2;
            list[count] = calloc(1, room);
            snprintf(list[count++], room, "%s/%s", folder, entries[i]->d_name);
        }
        free(entries[i]);
    }
    if (n >= 0 && folder) free(entries);
    return list;
}

static inline void recordings_free(char **list)
{
    for (size_t i = 0; list[i]; i++) free(list[i]);
    free(list);
}

#endif
