#include "io/sound/sound_kind.h"

#include <sndfile.h>
#include <stdio.h>
#include <string.h>

#include "io/sound/container.h"
#include "words/text.h"

/* Endings that are used for what libsndfile reads, besides those it names. */
static const char *const usual[] = { "mp3", "mp2", "oga", "ogg", "opus", "aif", "aifc", "aiff", "wav", "wave", "rf64", "bwf", "flac" };

/* Endings of sound that it doesn't read. */
static const char *const foreign[] = { "m4a", "m4b", "aac", "wma", "ac3", "amr", "ape", "wv", "mka", "dsf", "mpc", "tta",
                                      "mp4", "3gp", "webm", "spx", "ra" };

static const char *ending_of(const char *path)
{
    const char *dot = strrchr(path, '.');
    return !dot || strchr(dot, '/') ? "" : dot + 1;
}

static bool is_one_of(const char *ending, const char *const *list, size_t count)
{
    for (size_t i = 0; i < count; i++)
        if (text_same(ending, list[i])) return true;
    return false;
}

static bool is_named(const char *ending)
{
    int count = 0;
    sf_command(NULL, SFC_GET_FORMAT_MAJOR_COUNT, &count, sizeof count);
    for (int i = 0; i < count; i++) {
        SF_FORMAT_INFO info = { .format = i };
        if (!sf_command(NULL, SFC_GET_FORMAT_MAJOR, &info, sizeof info) && text_same(ending, info.extension))
            return true;
    }
    return false;
}

static bool is_foreign(const char *path)
{
    return is_one_of(ending_of(path), foreign, sizeof foreign / sizeof *foreign);
}

bool sound_has_ending(const char *path)
{
    const char *ending = ending_of(path);
    return *ending && (is_one_of(ending, usual, sizeof usual / sizeof *usual) || is_foreign(path) || is_named(ending));
}

bool sound_looks_like(const char *path)
{
    if (sound_has_ending(path)) return true;
    FILE *file = fopen(path, "rb");
    if (!file) return false;
    struct container c;
    container_look(file, &c);
    fclose(file);
    return c.kind != CONTAINER_UNKNOWN;
}

const char *sound_hint(const char *path, const char *name)
{
    return name || is_foreign(path) ? "; convert it to WAV, for instance with a general converter such as ffmpeg or sox"
        : "";
}
