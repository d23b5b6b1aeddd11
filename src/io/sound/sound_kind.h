/* Which files are sound, whether they can be read here or not: by their ending
 * or by their first bytes. */
#ifndef TC_SOUND_KIND_H
#define TC_SOUND_KIND_H

#include <stdbool.h>

/* True if a name ends like a recording: as a format of libsndfile does (asked
 * when the program runs), or one that it can't read. */
bool sound_has_ending(const char *path);

/* True if the file ends like sound or begins like sound. */
bool sound_looks_like(const char *path);

/* What would be right for a file that can't be read: "convert it to WAV ..."
 * where its ending or its first bytes are those of a form that isn't read
 * here; "" else. `name` as container.h gives it, or NULL. */
const char *sound_hint(const char *path, const char *name);

#endif
