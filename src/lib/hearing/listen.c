/* A recording that lies in memory as a whole: the listener's calls in a row. */
#include <string.h>

#include "words/model.h"
#include "words/watch.h"

/* Blocks between which the caller is told and asked. */
enum { BLOCKS = 100 };

enum tc_status tc_listen(const float *samples, size_t frames, double rate, int channels,
                         const struct tc_settings *s, const struct tc_watch *watch,
                         struct tc_analysis *out)
{
    struct tc_listener *l;
    memset(out, 0, sizeof *out);
    enum tc_status status = tc_listener_create(&l, s, rate, channels);
    if (status != TC_OK) return status;
    size_t block = frames / BLOCKS + 1;
    for (size_t at = 0; status == TC_OK && at < frames; at += block) {
        size_t n = frames - at < block ? frames - at : block;
        status = watch_tell(watch, (double)at / (double)frames);
        if (status == TC_OK) status = tc_listener_push(l, samples + at * (size_t)channels, n);
    }
    if (status == TC_OK) status = watch_tell(watch, 1);
    if (status == TC_OK) status = tc_listener_finish(l, out);
    tc_listener_destroy(l);
    return status;
}
