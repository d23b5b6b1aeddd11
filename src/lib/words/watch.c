#include "words/watch.h"

enum tc_status watch_tell(const struct tc_watch *watch, double share)
{
    if (watch && watch->progress) watch->progress(watch->with, share);
    return watch && watch->stop && watch->stop(watch->with) ? TC_ERR_STOPPED : TC_OK;
}
