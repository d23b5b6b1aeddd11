#include "io/process/progress.h"

#include <stdio.h>
#include <unistd.h>

#include "io/process/clock.h"

#define EVERY_S 0.25

static _Thread_local bool silent;

void progress_silence(bool on)
{
    silent = on;
}

void progress_show(const char *text)
{
    static _Thread_local double last;
    if (silent || !isatty(STDERR_FILENO)) return;
    double now = clock_now_s();
    if (now - last < EVERY_S) return;
    last = now;
    fprintf(stderr, "\r\033[K%s", text);
}

void progress_clear(void)
{
    if (!silent && isatty(STDERR_FILENO)) fputs("\r\033[K", stderr);
}
