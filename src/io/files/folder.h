/* Folders. */
#ifndef TC_FOLDER_H
#define TC_FOLDER_H

#include <stddef.h>

#include "thundercue.h"

/* Makes a folder and those above it; that it is there is fine. TC_ERR_WRITE. */
enum tc_status folder_make(const char *path, struct tc_problem *why);

/* "a" and "b" to "a/b"; "" and "b" to "b". The caller frees it; NULL out of memory. */
char *folder_join(const char *folder, const char *name);

/* The paths of the recordings in a folder, by name: what looks like sound
 * (io/sound/sound_kind.h) and is not hidden. TC_ERR_READ, TC_ERR_MEMORY; else
 * the caller frees them with folder_list_free. */
enum tc_status folder_recordings(const char *folder, char ***paths, size_t *count, struct tc_problem *why);
void folder_list_free(char **paths, size_t count);

#endif
