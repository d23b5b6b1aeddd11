#include "io/quiet.h"

#include <fcntl.h>
#include <pthread.h>
#include <unistd.h>

/* As many threads may be inside as like; the last one out puts it back. */
static pthread_mutex_t quiet_lock = PTHREAD_MUTEX_INITIALIZER;
static int quiet_depth, quiet_saved = -1;

void quiet_begin(void)
{
    pthread_mutex_lock(&quiet_lock);
    if (quiet_depth++ == 0) {
        int nowhere = open("/dev/null", O_WRONLY | O_CLOEXEC);
        quiet_saved = nowhere >= 0 ? fcntl(STDERR_FILENO, F_DUPFD_CLOEXEC, 3) : -1;
        if (quiet_saved >= 0) dup2(nowhere, STDERR_FILENO);
        if (nowhere >= 0) close(nowhere);
    }
    pthread_mutex_unlock(&quiet_lock);
}

void quiet_end(void)
{
    pthread_mutex_lock(&quiet_lock);
    if (--quiet_depth == 0 && quiet_saved >= 0) {
        dup2(quiet_saved, STDERR_FILENO);
        close(quiet_saved);
        quiet_saved = -1;
    }
    pthread_mutex_unlock(&quiet_lock);
}
