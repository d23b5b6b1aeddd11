/* Runs a fuzz target without libFuzzer: over every file of its corpus, and over
 * changes of it drawn from a small generator, the same each time. */
#include <dirent.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "../cases.h"
#include "fuzz.h"
#include "words/random.h"

enum { SIZE_MOST = 1 << 16, CHANGES = 60, CHANGES_QUICK = 8 };

static size_t change(uint8_t *data, size_t size, struct randomiser *r)
{
    uint32_t n = 1 + random_below(r, 4);
    for (uint32_t i = 0; i < n && size; i++) {
        uint32_t at = random_below(r, (uint32_t)size);
        switch (random_below(r, 5)) {
        case 0: data[at] = (uint8_t)random_below(r, 256); break;
        case 1: data[at] ^= (uint8_t)(1u << random_below(r, 8)); break;
        case 2: data[at] = random_below(r, 2) ? 0xFF : 0; break;
        case 3: size = at; break;                                              /* cut */
        default: memmove(data, data + at, size - at); size -= at; break;       /* lose the start */
        }
    }
    return size;
}

int main(void)
{
    static uint8_t data[SIZE_MOST], changed[SIZE_MOST];
    struct dirent **files;
    int count = scandir(CORPUS, &files, NULL, alphasort);
    if (count < 0) {
        printf("[  SKIPPED ] fuzz corpus " CORPUS " (not run from the checkout's top folder)\n");
        return 0;
    }
    int changes = cases(CHANGES, CHANGES_QUICK);
    int inputs = 0, runs = 0;
    int tell = dup(STDOUT_FILENO), quiet = QUIET ? open("/dev/null", O_WRONLY) : -1;
    if (quiet >= 0) dup2(quiet, STDOUT_FILENO), dup2(quiet, STDERR_FILENO);
    for (int i = 0; i < count; i++) {
        char path[512];
        snprintf(path, sizeof path, "%s/%s", CORPUS, files[i]->d_name);
        FILE *in = files[i]->d_name[0] == '.' ? NULL : fopen(path, "rb");
        free(files[i]);
        if (!in) continue;
        size_t size = fread(data, 1, sizeof data, in);
        fclose(in);
        LLVMFuzzerTestOneInput(data, size);
        inputs++, runs++;
        struct randomiser r = random_keyed(1, (uint64_t)inputs, size);
        for (int n = 0; n < changes; n++, runs++) {
            memcpy(changed, data, size);
            LLVMFuzzerTestOneInput(changed, change(changed, size, &r));
        }
    }
    free(files);
    fflush(NULL);
    dprintf(tell, "[%s] corpus " CORPUS ": %d files, %d runs\n", inputs ? "       OK " : "  FAILED  ", inputs, runs);
    return inputs ? 0 : 1;
}
