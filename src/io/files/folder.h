/* Folders. */
#ifndef TC_FOLDER_H
#define TC_FOLDER_H

#include "thundercue.h"

/* Makes a folder and those above it; that it is there is fine. TC_ERR_WRITE. */
enum tc_status folder_make(const char *path, struct tc_problem *why);

/* "a" and "b" to "a/b"; "" and "b" to "b". The caller frees it; NULL out of memory. */
char *folder_join(const char *folder, const char *name);

#endif
