/* What the fuzz targets share. A target is one file fuzz_NAME.c with one
 * function; `make fuzz` links it with libFuzzer, `make test` with replay.c,
 * which runs the corpus and some deterministic changes of it. */
#ifndef TC_FUZZ_H
#define TC_FUZZ_H

#include <stddef.h>
#include <stdint.h>

#include "words/model.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

/* Bytes as a file that exists in memory only; close it with fuzz_close. */
struct fuzz_file {
    int fd;
    char path[64];
};
struct fuzz_file fuzz_open(const uint8_t *data, size_t size);
void fuzz_close(struct fuzz_file *f);

/* Ends the program, with its line, if a promise is broken. */
#define FUZZ_CHECK(promise) ((promise) ? (void)0 : fuzz_broken(__FILE__, __LINE__, #promise))
void fuzz_broken(const char *file, int line, const char *promise);

/* Cues and plays what was heard, if it is short, and holds the result to the
 * flash limit by the code that counts on its own. */
void fuzz_play(const struct tc_analysis *heard, const struct tc_rig *rig, const struct tc_settings *s);

/* A few events to play on a rig. */
struct tc_analysis fuzz_events(void);

#endif
