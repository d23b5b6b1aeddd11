#include "io/process/standard.h"

#include <fcntl.h>
#include <unistd.h>

void standard_claim(void)
{
    /* So that reading and writing them still fail: each the wrong way round. */
    static const int ways[] = { [STDIN_FILENO] = O_WRONLY, [STDOUT_FILENO] = O_RDONLY, [STDERR_FILENO] = O_RDONLY };
    for (int i = 0; i < (int)(sizeof ways / sizeof *ways); i++) /* the lowest that is free is the one that is closed */
        if (fcntl(i, F_GETFD) < 0 && open("/dev/null", ways[i]) < 0) return;
}
