/* What the outputs of a folder's recordings are called, without their endings:
 * "clap.wav" makes "clap". Where several recordings would make the same, with
 * or without capitals, each keeps its whole name: "clap.wav", "Clap.flac".
 * Those who write outputs and those who look for them both ask here. */
#ifndef TC_OUTPUT_NAMES_H
#define TC_OUTPUT_NAMES_H

#include <stdbool.h>
#include <stddef.h>

struct output_name {
    const char *file;        /* "clap.wav", or with a folder before it, "squall/clap.wav" */
    char *name;              /* of its outputs, without the folder; the caller frees it */
};

/* Fills in the names; false out of memory, then some may be NULL. Only files
 * that have outputs belong in the list; its order doesn't matter. */
bool output_names_find(struct output_name *list, size_t count);

/* How much of a file is its folder, with the slash. */
size_t output_folder_length(const char *file);

#endif
