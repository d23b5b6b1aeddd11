#include "io/process/mute.h"

#include <fcntl.h>
#include <pthread.h>
#include <stdio.h>
#include <stdio_ext.h>
#include <unistd.h>

/* Any number of threads may be inside at once; the last one out puts it back. */
static pthread_mutex_t mute_lock = PTHREAD_MUTEX_INITIALIZER;
static const int streams[] = { STDOUT_FILENO, STDERR_FILENO };
enum { STREAMS = sizeof streams / sizeof *streams };
static int mute_depth, mute_saved[STREAMS] = { -1, -1 };

void mute_begin(void)
{
    pthread_mutex_lock(&mute_lock);
    if (mute_depth++ == 0) {
        int nowhere = open("/dev/null", O_WRONLY | O_CLOEXEC);
        if (__fpending(stdout)) fflush(stdout); /* our own output goes where it should */
        for (int i = 0; i < STREAMS; i++) {
            mute_saved[i] = nowhere >= 0 ? fcntl(streams[i], F_DUPFD_CLOEXEC, 3) : -1;
            if (mute_saved[i] >= 0) dup2(nowhere, streams[i]);
        }
        if (nowhere >= 0) close(nowhere);
    }
    pthread_mutex_unlock(&mute_lock);
}

void mute_end(void)
{
    pthread_mutex_lock(&mute_lock);
    if (--mute_depth == 0) {
        if (__fpending(stdout)) fflush(stdout);
        for (int i = 0; i < STREAMS; i++) {
            if (mute_saved[i] < 0) continue;
            dup2(mute_saved[i], streams[i]);
            close(mute_saved[i]);
            mute_saved[i] = -1;
        }
    }
    pthread_mutex_unlock(&mute_lock);
}
